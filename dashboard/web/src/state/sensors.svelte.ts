import type { SensorsReport } from '../../../../shared/schema/api.ts';
import { getJson } from './api.ts';
import type { App } from './app.svelte.ts';

/** While the place is open the report is fetched this often, ms; where topics are watched, more often. */
const EVERY_MS = 5000;
export const TOPICS_EVERY_MS = 2000;

/** Rejected readings by reason, topics that no signal uses, boards; values and ages come by the live channel. */
export class SensorsState {
  readonly #app: App;
  report = $state.raw<SensorsReport | null>(null);
  fault = $state('');

  constructor(app: App) {
    this.#app = app;
  }

  readonly #byName = $derived.by(() => new Map((this.report?.signals ?? []).map((signal) => [signal.name, signal])));

  of(name: string): SensorsReport['signals'][number] | undefined {
    return this.#byName.get(name);
  }

  /** Fetches now and again; returns what ends it. */
  follow(everyMs = EVERY_MS): () => void {
    const fetchNow = async () => {
      if (document.visibilityState !== 'visible') return;
      this.fault = await this.#app.read(async () => {
        this.report = await getJson<SensorsReport>('/api/sensors');
      });
    };
    void fetchNow();
    const timer = setInterval(fetchNow, everyMs);
    return () => clearInterval(timer);
  }
}
