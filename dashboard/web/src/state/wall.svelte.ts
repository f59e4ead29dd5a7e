import { clockTime } from '../format/zone.ts';
import { isScreen } from '../worker/caching.ts';
import type { App } from './app.svelte.ts';
import { PixelShift } from './pixel-shift.ts';
import type { Places } from './places.svelte.ts';
import { assetsOf, isDue, isOtherBuild, mayReload, reloadNoteOf } from './renewal.ts';
import { needsAcknowledging } from './standing.ts';
import { Untouched } from './untouched.ts';
import { Wake } from './wake.svelte.ts';

const RELOADED = 'dawnhold.reloaded';
/** The page is loaded again, or moved, only where nobody has touched it for this long, ms. */
const RELOAD_QUIET_MS = 30_000;
const MOVE_QUIET_MS = 60_000;
const WEEKLY_QUIET_MS = 3_600_000;
/** The box is asked for its build after every connection, and this often, ms. */
const LOOK_EVERY_MS = 3_600_000;
/** A place that could not be fetched is tried again this often, ms. */
const PLACE_EVERY_MS = 10_000;

/** What lets a page stand on a wall for weeks: it loads itself again after an upgrade, keeps the screen on while it must be seen, and leaves no mark on it. */
export class Wall {
  readonly wake = new Wake();
  readonly #app: App;
  readonly #places: Places;
  readonly #page: HTMLElement;
  readonly #untouched = new Untouched();
  readonly #shift = new PixelShift();
  /** Files that the page was made of when it was opened, and later ones. */
  readonly #loaded = new Set(assetsOf(document.documentElement.outerHTML));
  readonly #build = document.querySelector<HTMLScriptElement>('script[type="module"][src]')?.src ?? '';
  #hasOther = false;
  #lookedMs = performance.now();
  #seenSnapshots = 1;
  #triedMs = Number.NEGATIVE_INFINITY;

  /** @param page what is moved against burning in */
  constructor(app: App, places: Places, page: HTMLElement) {
    this.#app = app;
    this.#places = places;
    this.#page = page;
  }

  /** Does its work once a second; returns what ends it. */
  start(): () => void {
    const ends = [this.#untouched.start(), this.wake.start()];
    const timer = setInterval(() => this.#tick(), 1000);
    return () => {
      clearInterval(timer);
      for (const end of ends) end();
    };
  }

  #tick(): void {
    const { live } = this.#app;
    this.wake.follow(live.alarms);
    if (this.#untouched.isFor(MOVE_QUIET_MS)) this.#shift.move(this.#page);
    if (live.live) this.#lookWhenDue();
    if (!live.otherVersion && !this.#hasOther && !this.#isWeekly()) return;
    if (this.#untouched.isFor(RELOAD_QUIET_MS)) this.#reload();
  }

  #lookWhenDue(): void {
    const isNew = this.#app.live.snapshots > this.#seenSnapshots;
    if (this.#places.hasFailed(this.#app.place.current)) void this.#fetchAgain(isNew);
    else if (isNew || performance.now() - this.#lookedMs > LOOK_EVERY_MS) void this.#look();
    this.#seenSnapshots = Math.max(1, this.#app.live.snapshots);
  }

  /** Asks the box for its index page, which names the files of its build. */
  async #look(): Promise<void> {
    this.#lookedMs = performance.now();
    try {
      const answer = await fetch('/', { cache: 'no-store', signal: AbortSignal.timeout(10_000) });
      if (isScreen(answer)) this.#hasOther = isOtherBuild(await answer.text(), this.#loaded);
    } catch {
      // The next connection asks again.
    }
  }

  /** Somebody waits for a place whose file could not be had: after an upgrade it is gone, and the page is loaded anew at once. */
  async #fetchAgain(atOnce: boolean): Promise<void> {
    if (!atOnce && performance.now() - this.#triedMs < PLACE_EVERY_MS) return;
    this.#triedMs = performance.now();
    await this.#look();
    if (this.#hasOther) this.#reload();
    else await this.#places.fetch(this.#app.place.current);
  }

  #isWeekly(): boolean {
    const { live } = this.#app;
    const isQuiet = live.live && !live.alarms.some(needsAcknowledging) && !live.watch?.armed && this.#untouched.isFor(WEEKLY_QUIET_MS);
    return isDue({ livedMs: performance.now(), clock: clockTime(live.nowMs, live.rig?.timeZone ?? 'UTC'), isQuiet });
  }

  #reload(): void {
    try {
      if (!mayReload(reloadNoteOf(sessionStorage.getItem(RELOADED)), this.#build, Date.now())) return;
      sessionStorage.setItem(RELOADED, JSON.stringify({ build: this.#build, atMs: Date.now() }));
    } catch {
      // A browser that keeps no note could load itself again and again.
      return;
    }
    location.reload();
  }
}
