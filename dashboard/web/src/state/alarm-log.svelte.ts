import type { AlarmFigures, AlarmLog } from '../../../../shared/schema/alarm-book.ts';
import { logQuery } from '../format/alarm-log.ts';
import { getJson } from './api.ts';
import type { App } from './app.svelte.ts';

const DAY_MS = 86_400_000;
/** Lines that are fetched at first, and again with each "show more". */
const PAGE = 100;
/** What is typed is searched for after this rest, ms. */
const REST_MS = 300;

/** The log with what is searched for, and the figures of the same span. */
export class LogState {
  readonly #app: App;
  text = $state('');
  alarm = $state('');
  days = $state(7);
  log = $state.raw<AlarmLog | null>(null);
  figures = $state.raw<AlarmFigures | null>(null);
  fault = $state('');
  #limit = PAGE;
  #rest: ReturnType<typeof setTimeout> | undefined;
  /** Answers that were overtaken by another question are dropped. */
  #question = 0;

  constructor(app: App) {
    this.#app = app;
  }

  #span() {
    const toMs = Math.ceil(this.#app.live.nowMs) + 1;
    return { fromMs: toMs - this.days * DAY_MS, toMs };
  }

  /** The address of what is found, as a file for a spreadsheet. */
  get fileAddress(): string {
    return `/api/alarm-log?${logQuery({ ...this.#span(), text: this.text, alarm: this.alarm, limit: 20_000, format: 'csv' })}`;
  }

  /** Searches when typing has come to a rest. */
  searchSoon(): void {
    clearTimeout(this.#rest);
    this.#rest = setTimeout(() => void this.search(), REST_MS);
  }

  async search(): Promise<void> {
    this.#limit = PAGE;
    await this.#fetch();
  }

  async more(): Promise<void> {
    this.#limit += PAGE;
    await this.#fetch();
  }

  async #fetch(): Promise<void> {
    const question = ++this.#question;
    const span = this.#span();
    this.fault = await this.#app.read(async () => {
      const log = await getJson<AlarmLog>(`/api/alarm-log?${logQuery({ ...span, text: this.text, alarm: this.alarm, limit: this.#limit })}`);
      if (question === this.#question) this.log = log;
    });
  }

  async fetchFigures(): Promise<void> {
    const { fromMs, toMs } = this.#span();
    await this.#app.read(async () => {
      this.figures = await getJson<AlarmFigures>(`/api/alarm-figures?fromMs=${fromMs}&toMs=${toMs}`);
    });
  }
}
