import type { ZeroView } from '../../../../shared/schema/sensor-book.ts';
import { getJson } from './api.ts';
import type { App } from './app.svelte.ts';
import type { SettingsBook } from './settings-book.svelte.ts';

/** While it is open it is asked this often, ms. */
const EVERY_MS = 2000;
/** Over so many seconds of the rig's time it has to be steady. */
const SECONDS = 60;
/** A signal sent every so many seconds needs this many times that. */
const INTERVALS = 8;
const MOST_SECONDS = 600;

/** A zero that was set, so that it can be undone. */
interface Done {
  readonly signal: string;
  readonly before: number;
  readonly after: number;
}

/** The zero of one signal: what it reads while nothing should flow, and the offset that makes that nothing. */
export class ZeroSetting {
  readonly #app: App;
  readonly #book: SettingsBook;
  readonly signal: string;
  view = $state.raw<ZeroView | null>(null);
  points = $state.raw<readonly { tMs: number; value: number }[]>([]);
  fault = $state('');
  refused = $state('');
  isSending = $state(false);
  done = $state.raw<Done | null>(null);

  constructor(app: App, book: SettingsBook, signal: string) {
    this.#app = app;
    this.#book = book;
    this.signal = signal;
  }

  /** The time looked over, s. */
  get seconds(): number {
    const everyS = this.#app.live.signal(this.signal)?.info.everyS ?? 10;
    return Math.min(MOST_SECONDS, Math.max(SECONDS, Math.ceil(INTERVALS * everyS)));
  }

  /** Asks now and again; returns what ends it. */
  follow(): () => void {
    const look = () => void this.#look();
    look();
    const timer = setInterval(look, EVERY_MS);
    return () => clearInterval(timer);
  }

  /** A live value of it, for the picture. */
  note(tMs: number, value: number): void {
    if (this.points.at(-1)?.tMs === tMs) return;
    this.points = [...this.points.filter((point) => point.tMs > tMs - 1000 * this.seconds && point.tMs < tMs), { tMs, value }];
  }

  async #look(): Promise<void> {
    if (document.visibilityState !== 'visible') return;
    this.fault = await this.#app.read(async () => {
      this.view = await getJson<ZeroView>(`/api/zero?signal=${encodeURIComponent(this.signal)}&seconds=${this.seconds}`);
    });
  }

  async set(): Promise<void> {
    const { view } = this;
    if (view?.nextOffset == null) return;
    await this.#write({ signal: this.signal, before: view.offset, after: view.nextOffset });
  }

  async undo(): Promise<void> {
    const { done } = this;
    if (done && (await this.#write({ ...done, before: done.after, after: done.before }))) this.done = null;
  }

  async #write(done: Done): Promise<boolean> {
    if (this.isSending) return false;
    this.isSending = true;
    await this.#book.refresh();
    this.refused = await this.#book.edit({ what: 'offset', name: done.signal, offset: done.after });
    this.isSending = false;
    if (this.refused !== '') return false;
    this.done = done;
    // What was read with the other offset is another curve.
    this.points = [];
    await this.#look();
    return true;
  }
}
