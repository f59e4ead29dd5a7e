import type { LogLines } from '../../../../shared/schema/rig-book.ts';
import { getJson } from './api.ts';
import type { App } from './app.svelte.ts';

export type LogLevel = LogLines[number]['level'];

/** While lines are shown they are fetched this often, ms. */
const EVERY_MS = 5000;
const MOST = 500;
/** From which level on lines are shown, by what was chosen. */
const FROM: Readonly<Record<LogLevel, readonly LogLevel[]>> = { info: ['info', 'warning', 'error'], warning: ['warning', 'error'], error: ['error'] };

/** The newest lines of the program's own log, oldest first. */
export class LogLinesState {
  readonly #app: App;
  lines = $state.raw<LogLines | null>(null);
  fault = $state('');
  level = $state<LogLevel>('info');
  readonly shown = $derived((this.lines ?? []).filter(({ level }) => FROM[this.level].includes(level)));

  constructor(app: App) {
    this.#app = app;
  }

  /** Fetches now and again; returns what ends it. */
  follow(): () => void {
    const fetchNow = async () => {
      if (document.visibilityState !== 'visible' || !this.#app.live.connected) return;
      this.fault = await this.#app.read(async () => {
        this.lines = await getJson<LogLines>(`/api/log-lines?limit=${MOST}`);
      });
    };
    void fetchNow();
    const timer = setInterval(fetchNow, EVERY_MS);
    return () => clearInterval(timer);
  }
}
