import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import type { Browser, BrowserContext, CDPSession, Page, Worker } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { snapshotOf } from '../../deploy/bars/live-snapshot.ts';
import { freePort, openChromium, type Running, startBuilt, temporaryFolder, until } from '../../deploy/bars/processes.ts';
import { type PushBody, pushBody } from '../../shared/push-body.ts';
import type { Alarm } from '../../shared/schema/alarm.ts';
import { ROOT } from '../helpers/source-files.ts';

const RIG = `
rig: { id: hill, name: Hill }
place: { latitude: 39.6, longitude: -8.1, timeZone: Europe/Lisbon }
bank: { cells: 8, capacityAh: 280 }
broker: { port: 0 }
signals:
  bank.voltage: { topic: hill/v }
  bank.current: { topic: hill/a }
alarms:
  - { id: low-point, onDelay: 0 s }
`;

let folder: Awaited<ReturnType<typeof temporaryFolder>>;
let port: number;
let program: (Running & { url: string }) | null = null;
let browser: Browser;
let context: BrowserContext;
let page: Page;
let devtools: CDPSession;
let worker: Worker;
let registrationId: string;

async function start() {
  program = await startBuilt(['--rig', join(folder.path, 'rig.yaml'), '--data', join(folder.path, 'data'), '--port', String(port)], ROOT);
  return program.url;
}
const stop = async () => {
  await program?.end();
  program = null;
};

beforeAll(async () => {
  folder = await temporaryFolder();
  await writeFile(join(folder.path, 'rig.yaml'), RIG);
  port = await freePort();
  const url = await start();
  browser = await openChromium();
  context = await browser.newContext({ viewport: { width: 390, height: 844 } });
  await context.grantPermissions(['notifications'], { origin: url });
  page = await context.newPage();
  devtools = await context.newCDPSession(page);
  const registered = new Promise<string>((resolve) => {
    devtools.on('ServiceWorker.workerRegistrationUpdated', ({ registrations }) => registrations[0] && resolve(registrations[0].registrationId));
  });
  await devtools.send('ServiceWorker.enable');
  await page.goto(url);
  registrationId = await registered;
  await page.evaluate('navigator.serviceWorker.ready.then(() => undefined)');
  worker = context.serviceWorkers()[0] ?? (await context.waitForEvent('serviceworker'));
});

afterAll(async () => {
  await browser?.close();
  await stop();
  await folder?.remove();
});

const url = () => `http://127.0.0.1:${port}`;
/** Gives a push to the worker, as the browser does with one that came from its push service. */
const deliver = (data: string) => devtools.send('ServiceWorker.deliverPushMessage', { origin: url(), registrationId, data });

interface Seen {
  title: string;
  body: string;
  tag: string;
  actions: string[];
  silent: boolean;
  requireInteraction: boolean;
}
const notifications = () =>
  worker.evaluate(`self.registration.getNotifications().then((all) => all.map(({ title, body, tag, actions, silent, requireInteraction }) =>
    ({ title, body, tag, actions: actions.map(({ action }) => action), silent, requireInteraction })))`) as Promise<Seen[]>;
const shown = (title: string) =>
  until(
    async () => (await notifications()).find((one) => one.title === title),
    title,
    () => program?.said() ?? '',
  );

/** Presses an action of a notification. A script's event may not ask for time, which the real one gives; so it is waited for here. */
const press = (tag: string, action: string) =>
  worker.evaluate(
    async ([wanted, pressed]) => {
      const scope = globalThis as unknown as {
        registration: { getNotifications(filter: object): Promise<unknown[]> };
        NotificationEvent: new (name: string, init: object) => Event;
        dispatchEvent(event: Event): boolean;
      };
      const [notification] = await scope.registration.getNotifications({ tag: wanted });
      const event = new scope.NotificationEvent('notificationclick', { notification, action: pressed });
      let work: unknown;
      Object.defineProperty(event, 'waitUntil', { value: (promise: unknown) => (work = promise) });
      scope.dispatchEvent(event);
      await work;
    },
    [tag, action] as const,
  );

const alarmNow = async (): Promise<Alarm | undefined> => (await snapshotOf(url())).alarms.find(({ id }) => id === 'low-point');

let alarm: Alarm;
const bodyOf = (more: Partial<PushBody> = {}): string =>
  JSON.stringify({
    ...pushBody({
      noticeId: crypto.randomUUID(),
      eventId: `${alarm.id}-${alarm.occurrence}`,
      kind: 'alarm',
      alarmId: alarm.id,
      occurrence: alarm.occurrence,
      priority: 'high',
      title: alarm.title,
      text: alarm.text,
      helps: [],
      rigName: 'Hill',
      issuedMs: alarm.sinceMs,
      issuedText: '04:10',
      expiresMs: alarm.sinceMs + 3_600_000,
      canAcknowledge: true,
    }),
    ...more,
  });

test('a push shows the alarm, stays until it is dealt with, and its Acknowledge reaches the rig', async () => {
  alarm = await until(async () => {
    const found = await alarmNow();
    return found?.lifecycle === 'unacknowledged' && found;
  }, 'the alarm that nothing is known');
  await deliver(bodyOf());
  const seen = await shown(alarm.title);
  expect(seen).toMatchObject({ tag: `low-point-${alarm.occurrence}`, actions: ['acknowledge', 'open'], silent: false, requireInteraction: true });
  expect(seen.body).toContain(alarm.text);
  expect(seen.body).toContain('Hill, from 04:10');

  await press(seen.tag, 'acknowledge');
  await shown('Acknowledged at the rig');
  expect(await alarmNow()).toMatchObject({ lifecycle: 'acknowledged', occurrence: alarm.occurrence });
  expect(await notifications()).toHaveLength(1);
});

test('newer news of the alarm takes its place, older news does not, and its end is quiet', async () => {
  const tag = `low-point-${alarm.occurrence}`;
  const at = (minutes: number, more: Partial<PushBody> = {}) => bodyOf({ issuedMs: alarm.sinceMs + minutes * 60_000, title: `Minute ${minutes}`, ...more });
  await deliver(at(15));
  await shown('Minute 15');
  await deliver(at(5));
  await deliver('not what we send');
  await shown('Dawnhold has news');
  expect((await notifications()).map(({ title }) => title).sort()).toEqual(['Dawnhold has news', 'Minute 15']);
  await deliver(at(20, { kind: 'returned', canAcknowledge: false }));
  expect(await shown('Minute 20')).toMatchObject({ tag, silent: true, requireInteraction: false, actions: ['open'] });
  const worse = alarm.occurrence + 1;
  await deliver(at(25, { occurrence: worse, eventId: `low-point-${worse}` }));
  await shown('Minute 25');
  expect((await notifications()).filter(({ tag: one }) => one !== 'unreadable').map(({ title }) => title)).toEqual(['Minute 25']);
});

test('the rig lists a device that subscribes by name, and forgets it when it is revoked', async () => {
  // Chromium has no push service here: what it would give is set, all else is real.
  await page.evaluate(`
    const keys = { p256dh: 'B'.repeat(87), auth: 'A'.repeat(22) };
    const subscription = { endpoint: 'https://push.example/1', options: {}, toJSON: () => ({ endpoint: 'https://push.example/1', keys }), unsubscribe: async () => true };
    PushManager.prototype.subscribe = async () => subscription;
    PushManager.prototype.getSubscription = async () => subscription;
    location.hash = '#/alarms/told';
  `);
  const part = page.getByRole('region', { name: 'Alarms on this device' });
  await part.getByLabel('Name of this device').fill('Hill phone');
  await part.getByRole('button', { name: 'Tell this device of alarms' }).click();
  await part.getByText('This device is told of alarms').waitFor();
  await part.getByText('(this device)').waitFor();
  const targets = async () => (await snapshotOf(url())).reach?.routes.find(({ kind }) => kind === 'push')?.targets ?? [];
  expect(await targets()).toMatchObject([{ name: 'Hill phone' }]);
  await part.getByRole('button', { name: 'Revoke Hill phone', exact: true }).click();
  await part.getByRole('button', { name: 'Yes, revoke Hill phone' }).click();
  await part.getByText('This device is not told of alarms').waitFor();
  expect(await targets()).toEqual([]);
});

test('a subscribed device tells the rig that it showed the notice', async () => {
  await worker.evaluate("PushManager.prototype.getSubscription = async () => ({ endpoint: 'https://push.example/1' })");
  const noticeId = crypto.randomUUID();
  const told = context.waitForEvent('request', (request) => request.url() === `${url()}/api/receipts`);
  await deliver(bodyOf({ noticeId, issuedMs: alarm.sinceMs + 30 * 60_000, occurrence: alarm.occurrence + 1, title: 'Minute 30' }));
  expect((await told).postDataJSON()).toEqual({ noticeId, subscription: 'https://push.example/1' });
});

test('without the rig, Acknowledge says that it was not done, and the page opens and says since when', async () => {
  await stop();
  await deliver(bodyOf({ occurrence: alarm.occurrence + 2, eventId: 'low-point-away', title: 'Away from the rig' }));
  await shown('Away from the rig');
  await press('low-point-away', 'acknowledge');
  const answer = await shown('The rig cannot be reached from here');
  expect(answer).toMatchObject({ tag: 'low-point-away', actions: ['acknowledge', 'open'], requireInteraction: true });
  expect(answer.body).toContain('Not acknowledged: the alarm goes on calling.');
  await page.reload();
  await page.getByRole('heading', { name: /^Hill: no contact since \d\d:\d\d/ }).waitFor();
  await start();
  await page.locator('.clock').waitFor();
});
