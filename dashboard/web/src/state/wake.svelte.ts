import type { Alarm } from '../../../../shared/schema/alarm.ts';

const KEY = 'dawnhold.awake';
/** A browser that refused, as on a low battery, is asked again after this long, ms. */
const RETRY_MS = 60_000;

/** Whether an alarm stands that a person has to be there for: high or critical, and nobody has taken note of it. */
export const callsForSomebody = (alarms: readonly Alarm[]): boolean =>
  alarms.some(
    ({ suppression, lifecycle, priority }) => suppression === 'none' && lifecycle === 'unacknowledged' && (priority === 'high' || priority === 'critical'),
  );

/** `none`: this browser cannot; `off`: nothing asks for it; `on`: held; `refused`: the device does not allow it now. */
export type WakeState = 'none' | 'off' | 'on' | 'refused';

/** Keeps the screen of this device on: while an alarm calls for somebody, and always where the person has chosen so here. */
export class Wake {
  /** The person wants this screen on for good. */
  always = $state(kept());
  state = $state<WakeState>('wakeLock' in navigator ? 'off' : 'none');
  #isCalled = false;
  #lock: WakeLockSentinel | null = null;
  #askedMs = Number.NEGATIVE_INFINITY;
  readonly #seen = () => {
    this.#askedMs = Number.NEGATIVE_INFINITY;
    void this.#settle();
  };

  /** A lock ends whenever the page is hidden; it is taken again when the page is seen. Returns what ends all. */
  start(): () => void {
    document.addEventListener('visibilitychange', this.#seen);
    return () => {
      document.removeEventListener('visibilitychange', this.#seen);
      void this.#lock?.release();
    };
  }

  choose(always: boolean): void {
    this.always = always;
    try {
      localStorage.setItem(KEY, always ? 'always' : 'alarms');
    } catch {
      // A browser that keeps nothing forgets the choice with the page; it stands until then.
    }
    this.#seen();
  }

  /** Takes or gives back the lock as the alarms ask for; called once a second. */
  follow(alarms: readonly Alarm[]): void {
    this.#isCalled = callsForSomebody(alarms);
    void this.#settle();
  }

  async #settle(): Promise<void> {
    if (this.state === 'none') return;
    if (!this.always && !this.#isCalled) {
      await this.#lock?.release();
      this.state = 'off';
      return;
    }
    if (this.#lock || document.visibilityState !== 'visible' || performance.now() - this.#askedMs < RETRY_MS) return;
    this.#askedMs = performance.now();
    try {
      const lock = await navigator.wakeLock.request('screen');
      this.#lock = lock;
      this.state = 'on';
      lock.addEventListener('release', () => {
        if (this.#lock !== lock) return;
        this.#lock = null;
        this.state = 'off';
      });
      // Meanwhile it may have become needless.
      if (!this.always && !this.#isCalled) await this.#settle();
    } catch {
      this.state = 'refused';
    }
  }
}

function kept(): boolean {
  try {
    return localStorage.getItem(KEY) === 'always';
  } catch {
    return false;
  }
}
