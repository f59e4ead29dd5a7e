import { curveColumns, curveRows, type SocPoint, upTo } from '../charts/columns.ts';
import { curveMarks } from '../charts/curve-marks.ts';
import { nightWindow, type Span } from '../charts/night-window.ts';
import { skyStops } from '../charts/sky.ts';
import { surplusRuns } from '../charts/surplus.ts';
import { timeTicks } from '../charts/ticks.ts';
import { zoneText } from '../format/zone.ts';
import type { App } from './app.svelte.ts';
import { TRACE_STEP_MS } from './trace.svelte.ts';

/** The clock of the curve moves in these steps, ms: drawing it at every event would tell nothing more. */
const CLOCK_STEP_MS = 30_000;

/** What a person tries out on the curve. */
export interface TriedOut {
  /** The curve as a load that is thought about would make it; empty: none is. */
  ghost(): readonly SocPoint[];
  /** A floor that is not in force, percent; null: none is tried. */
  floorPct(): number | null;
}

/** What the night's curve shows, from the live state and the trace. */
export class NightCurve {
  readonly #app: App;
  readonly #tried: TriedOut | undefined;
  /** A moment that the person looks at; null: none. */
  scrubMs = $state<number | null>(null);

  constructor(app: App, tried?: TriedOut) {
    this.#app = app;
    this.#tried = tried;
  }

  readonly zone = $derived.by(() => this.#app.live.rig?.timeZone ?? 'UTC');
  readonly #nowMs = $derived.by(() => Math.floor(this.#app.live.nowMs / CLOCK_STEP_MS) * CLOCK_STEP_MS);
  readonly #endMs = $derived.by(() => this.#app.live.projection?.nightEndMs ?? null);
  readonly #fromMs = $derived.by(() => nightWindow(this.#nowMs, this.#endMs, this.zone).fromMs);
  readonly #toMs = $derived.by(() => nightWindow(this.#nowMs, this.#endMs, this.zone).toMs);
  /** The same object until the window really moves. */
  readonly window = $derived<Span>({ fromMs: this.#fromMs, toMs: this.#toMs });
  readonly #socPct = $derived.by(() => {
    // Without contact nobody knows what is now.
    const soc = this.#app.live.live ? (this.#app.live.bank?.socPct ?? null) : null;
    return soc === null ? null : Math.round(soc * 10) / 10;
  });
  readonly #traced = $derived.by(() => upTo(this.#app.trace.points, this.#nowMs));
  readonly #past = $derived.by<SocPoint[]>(() => {
    const now = this.#socPct === null ? [] : [{ tMs: this.#nowMs, socPct: this.#socPct }];
    return [...this.#traced, ...now];
  });
  readonly columns = $derived.by(() => curveColumns(this.#past, this.#app.live.projection?.curve ?? [], this.window, TRACE_STEP_MS));
  readonly marks = $derived.by(() => {
    const { live } = this.#app;
    return curveMarks({
      window: this.window,
      zone: this.zone,
      nowMs: this.#nowMs,
      socPct: this.#socPct,
      projection: live.projection,
      past: this.#past,
      sky: live.sun ? skyStops(this.window, live.sun) : [],
      surplus: surplusRuns(this.#traced, TRACE_STEP_MS),
      floorPct: this.#tried?.floorPct() ?? live.rig?.floorPct ?? null,
      scrubMs: this.scrubMs,
      ghost: this.#tried?.ghost() ?? [],
    });
  });
  readonly zoneText = $derived.by(() => zoneText(this.#nowMs, this.zone));
  /** The curve by the hour, for those who read it as a table. */
  readonly rows = $derived.by(() => {
    const ticks = timeTicks(this.window.fromMs, this.window.toMs, this.zone, 1);
    const rows = curveRows(
      this.#past,
      this.#app.live.projection?.curve ?? [],
      ticks.map((tick) => tick.tMs),
    );
    return rows.map((row, i) => ({ ...row, label: ticks[i]?.label ?? '' }));
  });

  ticks(stepH: number) {
    return timeTicks(this.window.fromMs, this.window.toMs, this.zone, stepH);
  }
}
