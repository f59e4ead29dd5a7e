import { OneAtATime } from '../../../../shared/one-at-a-time.ts';
import { type PushBody, readPushBody } from '../../../../shared/push-body.ts';
import type { DeviceNote } from '../state/phone-stand.ts';
import { cacheName, isScreen, outdated, SCREEN_LIMIT_MS, wayOf } from './caching.ts';
import { readNote, writeNote } from './notes.ts';
import { ACKNOWLEDGE, isOutdatedBy, type NoticeData, remember, replyOf, type Shown, shownFor } from './notification.ts';
import { acknowledge, command, tellShown } from './rig.ts';

declare const self: ServiceWorkerGlobalScope;
/** Set by the build: the page and all its parts, and what tells one build from another. */
declare const SCREEN_FILES: readonly string[];
declare const SCREEN_VERSION: string;

const CACHE = cacheName(SCREEN_VERSION);
/** Pushes are shown one after another: each looks at what was shown before. */
const pushes = new OneAtATime();

// A page that opens gets itself from the box, so a new worker may take over at once: no page needs a second load for it.
self.addEventListener('install', (event) => event.waitUntil(keepScreens().then(() => self.skipWaiting())));
self.addEventListener('activate', (event) => event.waitUntil(takeOver()));
self.addEventListener('fetch', (event) => {
  const way = wayOf(event.request, self.location.origin);
  if (way === 'asset') event.respondWith(asset(event.request));
  if (way === 'screen') event.respondWith(screen(event.request));
});
self.addEventListener('push', (event) => event.waitUntil(pushes.take(() => onPush(event.data))));
self.addEventListener('notificationclick', (event) => event.waitUntil(onTap(event.notification, event.action)));
self.addEventListener('pushsubscriptionchange', (event) => event.waitUntil(subscribeAgain(event as Event as PushSubscriptionChangeEvent)));

async function keepScreens(): Promise<void> {
  const cache = await caches.open(CACHE);
  await cache.addAll(SCREEN_FILES.map((path) => new Request(path, { cache: path === '/' ? 'reload' : 'default' })));
}

async function takeOver(): Promise<void> {
  await Promise.all(outdated(await caches.keys(), CACHE).map((name) => caches.delete(name)));
  await self.clients.claim();
}

const asset = async (request: Request): Promise<Response> => (await caches.match(request)) ?? fetch(request);

/** The page from the box; where it does not answer soon with a page of ours, the kept one, which says by itself that there is no contact. */
async function screen(request: Request): Promise<Response> {
  const tooLate = new Promise<null>((resolve) => setTimeout(resolve, SCREEN_LIMIT_MS, null));
  const fresh = await Promise.race([fetch(request).catch(() => null), tooLate]);
  if (fresh && isScreen(fresh)) return fresh;
  return (await (await caches.open(CACHE)).match('/')) ?? fresh ?? Response.error();
}

async function onPush(data: PushMessageData | null): Promise<void> {
  const told = (await readNote<readonly PushBody[]>('told')) ?? [];
  const body = data && readPushBody(data.text());
  const shown = shownFor(body, told, Date.now());
  await show(shown);
  if (!body || !shown.options.data.body) return;
  await writeNote('told', remember(told, shown.options.data.body));
  const subscription = await self.registration.pushManager.getSubscription().catch(() => null);
  if (subscription) await tellShown({ noticeId: body.noticeId, subscription: subscription.endpoint });
}

async function show(shown: Shown): Promise<void> {
  // The page's own list of options lacks those that only a worker's notifications have.
  await self.registration.showNotification(shown.title, shown.options as unknown as NotificationOptions);
  for (const other of await self.registration.getNotifications()) {
    if (isOutdatedBy(shown, other.tag, other.data as NoticeData | null)) other.close();
  }
}

async function onTap(notification: Notification, action: string): Promise<void> {
  const { body, path } = (notification.data as NoticeData | null) ?? { body: null, path: '/#/alarms' };
  if (action === ACKNOWLEDGE && body) return show(replyOf(body, await acknowledge(body)));
  notification.close();
  const [open] = await self.clients.matchAll({ type: 'window', includeUncontrolled: true });
  if (!open) return void (await self.clients.openWindow(path));
  await open.focus();
  open.postMessage({ openPath: path });
}

/** The browser has renewed or dropped the subscription: makes another with the same key and tells the rig. Where that fails, the page says so when it opens. */
async function subscribeAgain({ oldSubscription, newSubscription }: PushSubscriptionChangeEvent): Promise<void> {
  const device = await readNote<DeviceNote>('device');
  if (!device) return;
  const key = oldSubscription?.options.applicationServerKey ?? device.pushKey;
  const subscription =
    newSubscription ?? (await self.registration.pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: key }).catch(() => null));
  const { endpoint, keys } = subscription?.toJSON() ?? {};
  if (!endpoint || !keys?.p256dh || !keys.auth) return;
  const outcome = await command({ kind: 'subscribe-push', name: device.name, subscription: { endpoint, keys: { p256dh: keys.p256dh, auth: keys.auth } } });
  if (outcome.kind === 'done') await writeNote('device', { ...device, endpoint });
}
