import { nearest } from '../charts/columns.ts';
import type { LoadMarks, NamedLoad } from '../charts/draw-load-marks.ts';
import { drawnW, joined, powerScale, type StackPoint, stackColumns, withPlanned } from '../charts/load-stack.ts';
import { expectedW, known, type Measured } from '../format/expected.ts';
import { busShare, type LoadSpan, plannedWh } from '../format/planned.ts';
import type { AdviceState } from './advice.svelte.ts';
import type { App } from './app.svelte.ts';
import type { LoadDraft } from './load-draft.svelte.ts';
import type { NightCurve } from './night-curve.svelte.ts';

/** What draws and what gives along the night: measured up to now, expected from now on, with the load that is thought about. */
export class LoadStack {
  readonly #app: App;
  readonly #curve: NightCurve;
  readonly #advice: AdviceState;
  readonly #draft: LoadDraft;

  constructor(app: App, curve: NightCurve, advice: AdviceState, draft: LoadDraft) {
    this.#app = app;
    this.#curve = curve;
    this.#advice = advice;
    this.#draft = draft;
  }

  readonly measured = $derived.by<Measured>(() => ({
    minisplit: this.#isFresh('minisplit.power'),
    panels: this.#isFresh('panels.power') || this.#isFresh('panels.current'),
  }));
  /** False when what the mini-split draws stands in the other loads. */
  readonly isMinisplitKnown = $derived.by(() => {
    const { projection } = this.#app.live;
    return projection !== null && known(projection, this.measured).minisplit;
  });
  /** What a planned watt takes at the bus, from what the engine counted of the same loads. */
  readonly share = $derived.by(() => {
    const { tonight } = this.#advice;
    const { projection, plan } = this.#app.live;
    if (!tonight || !projection) return 1;
    return busShare(tonight.breakdown.energyWh.planned, plannedWh(plan ?? [], Math.max(tonight.tMs, projection.nightStartMs), projection.nightEndMs));
  });
  readonly #ahead = $derived.by(() => {
    const p = this.#app.live.projection;
    if (!p) return [];
    const points = p.curve.map((at) => {
      const { minisplit, standing, inverter, panels } = expectedW(p, at, this.measured);
      return { tMs: at.tMs, minisplitW: minisplit, standingW: standing, inverterW: inverter, panelsW: panels };
    });
    return withPlanned(points, this.#app.live.plan ?? [], this.share);
  });
  readonly #points = $derived.by(() => joined(withPlanned(this.#app.trace.points, [], 1), this.#ahead));
  readonly columns = $derived.by(() => stackColumns(this.#points, this.#curve.window));
  readonly #ghost = $derived.by<LoadMarks['ghost']>(() => {
    const { load } = this.#draft;
    return load && { ...this.#named({ ...load, name: load.name || 'this load' }), powerW: this.share * load.powerW, topW: this.#topW(load) };
  });
  readonly #mostW = $derived.by(() => {
    const most = this.#points.reduce((top, point) => Math.max(top, drawnW(point) ?? 0, point.panelsW ?? 0), 0);
    return Math.max(most, this.#ghost ? this.#ghost.topW + this.#ghost.powerW : 0);
  });
  readonly #scale = $derived.by(() => powerScale(this.#mostW));
  readonly topW = $derived.by(() => this.#scale.topW);
  readonly marksW = $derived.by(() => this.#scale.marksW);
  readonly marks = $derived.by<LoadMarks>(() => ({
    nowMs: this.#curve.marks.now.tMs,
    scrubMs: this.#curve.marks.scrub?.tMs ?? null,
    planned: (this.#app.live.plan ?? []).map((load) => this.#named(load)),
    ghost: this.#ghost,
  }));
  /** The powers by the hour, for those who read them as a table. */
  readonly rows = $derived.by(() => this.#curve.rows.map(({ tMs, label }) => ({ tMs, label, at: nearest(this.#points, tMs, 600_000) })));

  /** What is expected at a moment; null where nothing is projected. */
  at(tMs: number): StackPoint | null {
    return nearest(this.#ahead, tMs);
  }

  #named(load: LoadSpan & { readonly name: string }): NamedLoad {
    return { name: load.name, fromMs: load.startMs, toMs: load.endMs, topW: this.#topW(load) };
  }

  /** How high all that draws reaches while a load runs, W. */
  #topW({ startMs, endMs }: LoadSpan): number {
    const during = this.#ahead.filter(({ tMs }) => tMs >= startMs - 600_000 && tMs < endMs);
    return during.reduce((top, point) => Math.max(top, drawnW(point) ?? 0), 0);
  }

  #isFresh(signal: string): boolean {
    const shown = this.#app.live.shown(signal);
    return shown !== null && shown.value !== null && shown.old === '';
  }
}
