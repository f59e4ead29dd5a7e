import { nearest } from '../charts/columns.ts';
import { ghostCurve } from '../charts/ghost.ts';
import { groupTexts } from '../format/expected.ts';
import { limitsText } from '../format/limits.ts';
import { learningText, plainText, verdict, whenText } from '../format/verdict.ts';
import { clockTime } from '../format/zone.ts';
import { AdviceState } from './advice.svelte.ts';
import type { App } from './app.svelte.ts';
import { LimitsState } from './limits.svelte.ts';
import { LoadDraft } from './load-draft.svelte.ts';
import { LoadStack } from './load-stack.svelte.ts';
import { NightCurve } from './night-curve.svelte.ts';

/** Steps of the slider along the night, ms. */
export const SCRUB_STEP_MS = 600_000;

/** This night at large: the curve, the moment looked at, what is expected to draw and to give, the owner's limits and the load that is thought about. */
export class Tonight {
  readonly #app: App;
  readonly curve: NightCurve;
  readonly advice: AdviceState;
  readonly limits: LimitsState;
  readonly draft: LoadDraft;
  readonly stack: LoadStack;

  constructor(app: App) {
    this.#app = app;
    this.curve = new NightCurve(app, { ghost: () => this.ghost, floorPct: () => this.limits.triedFloorPct });
    this.advice = new AdviceState(app);
    this.limits = new LimitsState(app);
    this.draft = new LoadDraft(app, this.advice);
    this.stack = new LoadStack(app, this.curve, this.advice, this.draft);
  }

  readonly projection = $derived.by(() => this.#app.live.projection);
  readonly #isTold = $derived.by(() => this.projection !== null && this.projection.verdict !== 'unknown');
  readonly headline = $derived.by(() => {
    const p = this.projection;
    const { live } = this.#app;
    if (!p || p.verdict === 'unknown') return plainText(verdict(p, live.bank, live.setting).pieces);
    const points = Math.round(p.lowPoint.p50Pct) - Math.round(this.limits.wanted.floorPct);
    const against = points >= 0 ? `${points} points above the floor` : `${-points} points under the floor`;
    const learning = learningText(p);
    const lowest = `${learning === '' ? 'Lowest' : 'Lowest about'} ${Math.round(p.lowPoint.p50Pct)} %`;
    return `${learning}${lowest} at ${whenText(p.lowPoint.tMs, p, live.nowMs, this.curve.zone)}, ${against}.`;
  });
  /** How the night stands against what the owner wants; null while nothing is told of it. */
  readonly stand = $derived.by(() => (this.projection && this.#isTold ? limitsText(this.projection, this.limits.wanted) : null));
  /** What stands where no doubt is told: all is well only while there is a projection, and readings for the next. */
  readonly withoutDoubts = $derived.by(() => {
    const { live } = this.#app;
    if (!this.#isTold) return 'Nothing is projected, so nothing can be said of it.';
    return live.standstill === '' ? 'Nothing out of the ordinary.' : 'Nothing new comes in, and what stands here gets older.';
  });
  /** The slider runs over the projected part. */
  readonly reach = $derived.by(() => {
    const curve = this.projection?.curve ?? [];
    return { fromMs: curve[0]?.tMs ?? 0, toMs: Math.min(curve.at(-1)?.tMs ?? 0, this.curve.window.toMs) };
  });
  readonly scrubMs = $derived.by(() => this.curve.scrubMs ?? Math.min(this.projection?.lowPoint.tMs ?? this.reach.fromMs, this.reach.toMs));
  /** The moment looked at: the time, the state of charge with its range, and what is expected by group. */
  readonly moment = $derived.by(() => {
    const at = nearest(this.projection?.curve ?? [], this.scrubMs);
    const powers = this.stack.at(this.scrubMs);
    if (!at || !powers || powers.standingW === null) return null;
    const { minisplitW, standingW, inverterW, panelsW, plannedW } = powers;
    // The low point is the lowest of each night that may come, whenever that is; at any one moment the middle of them lies a little higher.
    const low = this.curve.scrubMs === null && this.projection?.lowPoint.tMs === this.scrubMs ? this.projection.lowPoint : null;
    const { p10Pct, p50Pct, p90Pct } = low ?? at;
    const expected = { minisplit: minisplitW, standing: standingW, inverter: inverterW, panels: panelsW };
    return {
      when: `${low ? 'Low point, about' : 'At'} ${clockTime(this.scrubMs, this.curve.zone)}`,
      soc: `${Math.round(p50Pct)} %`,
      range: `between ${Math.round(p10Pct)} and ${Math.round(p90Pct)} %`,
      groups: groupTexts(expected, plannedW, this.#app.live.rig?.hasMinisplit ?? false),
    };
  });
  /** The curve with the load that is thought about, once it is answered. */
  readonly ghost = $derived.by(() => {
    const { current, load } = this.draft;
    if (!this.projection || !current || !load || current.advice.verdict === 'unknown') return [];
    return ghostCurve(this.projection, load, current.advice);
  });

  /** Looks at a moment of the projected part, in steps of the slider. */
  lookAt(tMs: number): void {
    const { fromMs, toMs } = this.reach;
    const stepped = fromMs + Math.round((tMs - fromMs) / SCRUB_STEP_MS) * SCRUB_STEP_MS;
    this.curve.scrubMs = Math.min(toMs, Math.max(fromMs, stepped));
  }
}
