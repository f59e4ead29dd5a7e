import { SvelteMap } from 'svelte/reactivity';
import type { History } from '../../../../shared/schema/api.ts';
import { getJson } from './api.ts';
import type { App } from './app.svelte.ts';
import { InSight } from './in-sight.ts';

const DAY_MS = 86_400_000;
const BUCKETS = 96;
/** A trace in sight is renewed this often, by the rig's time: as its last bucket fills. */
const STEP_MS = 300_000;
/** While it is in sight it is looked this often whether that is due, ms. */
const LOOK_MS = 20_000;

/** The last day of signals, fetched when somebody looks at them. */
export class DayTraces {
  readonly #app: App;
  readonly #found = new SvelteMap<string, History>();
  readonly #busy = new Set<string>();
  readonly #inSight = new InSight();

  constructor(app: App) {
    this.#app = app;
  }

  of(signal: string): History | null {
    return this.#found.get(signal) ?? null;
  }

  /** An attachment: keeps a signal's day up to date while the element can be seen. */
  whileInSight(signal: string): (element: Element) => () => void {
    return this.#inSight.while(() => this.#follow(signal));
  }

  #follow(signal: string): () => void {
    const look = () => void this.#refresh(signal);
    look();
    const timer = setInterval(look, LOOK_MS);
    return () => clearInterval(timer);
  }

  async #refresh(signal: string): Promise<void> {
    const { nowMs, connected } = this.#app.live;
    const toMs = Math.ceil(nowMs / STEP_MS) * STEP_MS;
    if (!connected || nowMs === 0 || this.#busy.has(signal) || this.#found.get(signal)?.toMs === toMs || document.visibilityState !== 'visible') return;
    this.#busy.add(signal);
    // Without an answer the picture stays as it was; the next look tries again.
    await this.#app.read(async () => {
      this.#found.set(
        signal,
        await getJson<History>(`/api/history?signal=${encodeURIComponent(signal)}&fromMs=${toMs - DAY_MS}&toMs=${toMs}&buckets=${BUCKETS}`),
      );
    });
    this.#busy.delete(signal);
  }
}
