import type { AlarmBook } from '../../../../shared/schema/alarm-book.ts';
import type { ReachView } from '../../../../shared/schema/notice.ts';
import { readNote, writeNote } from '../worker/notes.ts';
import { getJson } from './api.ts';
import type { App } from './app.svelte.ts';
import { cleanName, type Device, type DeviceNote, devicesOf, keyBytes, keyText, LOST, nameFault, type PhoneStand, standOf } from './phone-stand.ts';

/** A page on the home screen of a phone or tablet that gives push to such pages alone; null elsewhere. */
const onHomeScreen = (): boolean | null => ('standalone' in navigator ? navigator.standalone === true : null);

let only: Phone | null = null;
/** The one of this page. */
export function phoneOf(app: App): Phone {
  only ??= new Phone(app);
  return only;
}

/** Alarms by push on this device: whether they can come, whether they are asked for, and whether the rig still knows it. */
export class Phone {
  readonly #app: App;
  readonly #hasPush = 'serviceWorker' in navigator && 'PushManager' in window && 'Notification' in window;
  #permission = $state<NotificationPermission>(this.#hasPush ? Notification.permission : 'default');
  #pushKey = $state<string | null | undefined>(undefined);
  #held = $state.raw<{ readonly endpoint: string; readonly pushKey: string | null } | null | undefined>(undefined);
  #note = $state.raw<DeviceNote | null>(null);
  /** What the rig said of its routes before this device subscribed: the list that names it is still to come. */
  #before = $state.raw<ReachView | null>(null);
  /** What went wrong last, in words; '' when nothing did. */
  fault = $state('');
  /** What has just been done, in words. */
  news = $state('');
  /** Something is under way. */
  busy = $state(false);

  readonly #routes = $derived.by(() => this.#app.live.reach?.routes ?? null);
  readonly devices = $derived.by<readonly Device[]>(() => devicesOf(this.#routes ?? [], this.#note));
  /** The route by push that a test goes over; null where there is none. */
  readonly route = $derived.by(() => this.#routes?.find(({ kind }) => kind === 'push')?.name ?? null);
  readonly stand = $derived.by<PhoneStand>(() =>
    standOf({
      isSecure: window.isSecureContext,
      hasPush: this.#hasPush,
      onHomeScreen: onHomeScreen(),
      permission: this.#permission,
      pushKey: this.#pushKey,
      held: this.#held,
      note: this.#note,
      listed: this.#routes && this.#app.live.reach !== this.#before ? this.devices.map(({ name }) => name) : null,
    }),
  );

  constructor(app: App) {
    this.#app = app;
  }

  /** Alarms do not reach this device although it asked for them. */
  get isLost(): boolean {
    return LOST.has(this.stand) && (this.stand !== 'denied' || this.#note !== null);
  }

  /** The name under which this device was subscribed; '' before. */
  get name(): string {
    return this.#note?.name ?? '';
  }

  /** Looks anew at what the browser holds and what the rig says; called at each opening. A subscription that the browser renewed is told to the rig. */
  async look(): Promise<void> {
    if (!this.#hasPush || !window.isSecureContext) return;
    this.#note = await readNote<DeviceNote>('device');
    await this.#readHeld();
    this.fault = await this.#app.read(async () => {
      this.#pushKey = (await getJson<AlarmBook>('/api/alarm-book')).pushKey;
    });
    if (this.stand === 'renewed' && this.#note) await this.subscribe(this.#note.name);
  }

  /** Asks the person, then the browser, then the rig. Must run inside a touch or click, which browsers want before they ask. */
  async subscribe(name: string): Promise<void> {
    this.fault = nameFault(name, this.devices);
    if (this.fault !== '' || !this.#pushKey) return;
    await this.#during(() => this.#subscribe(cleanName(name), this.#pushKey ?? ''));
  }

  /** Takes a device off the rig's list; this one's browser lets go of its subscription too. */
  async revoke(device: Device): Promise<void> {
    await this.#during(async () => {
      const fault = await this.#app.command({ kind: 'revoke-push', deviceId: device.id });
      if (fault !== '' || !device.isThis) return fault;
      const registration = await navigator.serviceWorker.ready;
      await (await registration.pushManager.getSubscription())?.unsubscribe();
      await this.#remember(null);
      return '';
    });
  }

  /** Sends a test the way that an alarm goes. */
  async tryOut(): Promise<void> {
    await this.#during(() => this.#app.command({ kind: 'try-routes', route: this.route }));
    if (this.fault === '') this.news = 'A test is on its way. It should show on each device within seconds.';
  }

  async #subscribe(name: string, pushKey: string): Promise<string> {
    // Asked for before anything is waited for: later it would no longer count as answering a touch.
    this.#permission = await Notification.requestPermission();
    if (this.#permission !== 'granted') return 'Without leave to show notifications no alarm can reach this device.';
    const { pushManager } = await navigator.serviceWorker.ready;
    if (this.#held && this.#held.pushKey !== pushKey) await (await pushManager.getSubscription())?.unsubscribe();
    try {
      await pushManager.subscribe({ userVisibleOnly: true, applicationServerKey: keyBytes(pushKey) });
    } catch {
      return 'The browser could not subscribe: it needs the internet for that, and leave for its push service. Try again with a connection.';
    }
    const { endpoint, keys } = (await pushManager.getSubscription())?.toJSON() ?? {};
    if (!endpoint || !keys?.p256dh || !keys.auth) return 'The browser gave a subscription without its keys; try again, or another browser.';
    this.#before = this.#app.live.reach;
    const fault = await this.#app.command({ kind: 'subscribe-push', name, subscription: { endpoint, keys: { p256dh: keys.p256dh, auth: keys.auth } } });
    if (fault === '') await this.#remember({ name, endpoint, pushKey });
    return fault;
  }

  async #remember(note: DeviceNote | null): Promise<void> {
    await writeNote('device', note);
    this.#note = note;
    await this.#readHeld();
  }

  async #readHeld(): Promise<void> {
    this.#permission = Notification.permission;
    const registration = await navigator.serviceWorker.ready;
    const held = await registration.pushManager.getSubscription();
    const key = held?.options.applicationServerKey;
    this.#held = held && { endpoint: held.endpoint, pushKey: key ? keyText(key) : null };
  }

  /** One thing at a time, with its fault in words. */
  async #during(work: () => Promise<string>): Promise<void> {
    if (this.busy) return;
    this.busy = true;
    this.news = '';
    try {
      this.fault = await work();
    } finally {
      this.busy = false;
    }
  }
}
