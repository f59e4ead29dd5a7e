import { nearest } from '../charts/columns.ts';
import { expectedW, known } from '../format/expected.ts';
import { powerText } from '../format/quantity.ts';
import { learningText, plainText, verdict, whenText } from '../format/verdict.ts';
import { clockTime } from '../format/zone.ts';
import type { App } from './app.svelte.ts';
import { NightCurve } from './night-curve.svelte.ts';

/** Steps of the slider along the night, ms. */
export const SCRUB_STEP_MS = 600_000;

/** This night at large: the curve, the moment looked at, and what is expected to be drawn. */
export class Tonight {
  readonly #app: App;
  readonly curve: NightCurve;

  constructor(app: App) {
    this.#app = app;
    this.curve = new NightCurve(app);
  }

  readonly projection = $derived.by(() => this.#app.live.projection);
  readonly headline = $derived.by(() => {
    const p = this.projection;
    const { live } = this.#app;
    if (!p || p.verdict === 'unknown') return plainText(verdict(p, live.bank, live.setting).pieces);
    const points = Math.round(p.lowPoint.p50Pct) - Math.round(p.floorPct);
    const against = points >= 0 ? `${points} points above the floor` : `${-points} points under the floor`;
    const learning = learningText(p);
    const lowest = `${learning === '' ? 'Lowest' : 'Lowest about'} ${Math.round(p.lowPoint.p50Pct)} %`;
    return `${learning}${lowest} at ${whenText(p.lowPoint.tMs, p, live.nowMs, this.curve.zone)}, ${against}.`;
  });
  /** What stands where no doubt is told: all is well only while there is a projection, and readings for the next. */
  readonly withoutDoubts = $derived.by(() => {
    const { live } = this.#app;
    if (!this.projection || this.projection.verdict === 'unknown') return 'Nothing is projected, so nothing can be said of it.';
    return live.standstill === '' ? 'Nothing out of the ordinary.' : 'Nothing new comes in, and what stands here gets older.';
  });
  readonly #measured = $derived.by(() => ({
    minisplit: this.#isFresh('minisplit.power'),
    panels: this.#isFresh('panels.power') || this.#isFresh('panels.current'),
  }));
  /** The slider runs over the projected part. */
  readonly reach = $derived.by(() => {
    const curve = this.projection?.curve ?? [];
    return { fromMs: curve[0]?.tMs ?? 0, toMs: curve.at(-1)?.tMs ?? 0 };
  });
  readonly scrubMs = $derived.by(() => this.curve.scrubMs ?? this.projection?.lowPoint.tMs ?? this.reach.fromMs);
  /** The moment looked at, in words. */
  readonly moment = $derived.by(() => {
    const p = this.projection;
    const at = nearest(p?.curve ?? [], this.scrubMs);
    if (!p || !at) return '';
    const { minisplit, standing, inverter, panels } = expectedW(p, at, this.#measured);
    const draws = [
      ...(minisplit === null ? [] : [`mini-split ${powerText(minisplit)}`]),
      `${this.#restLabel(minisplit)} ${powerText(standing)}`,
      ...(inverter === null ? [] : [`inverter ${powerText(inverter)}`]),
    ];
    const gives = panels !== null && panels >= 1 ? `, panels ${powerText(panels)}` : '';
    return `At ${clockTime(this.scrubMs, this.curve.zone)}: ${Math.round(at.p50Pct)} %, between ${Math.round(at.p10Pct)} and ${Math.round(at.p90Pct)} %. Expected: ${draws.join(', ')}${gives}.`;
  });
  /** False when what the mini-split draws stands in the other loads. */
  readonly isMinisplitKnown = $derived.by(() => this.projection !== null && known(this.projection, this.#measured).minisplit);

  /** A mini-split that nothing is known of draws all the same. */
  #restLabel(minisplit: number | null): string {
    return minisplit === null && this.#app.live.rig?.hasMinisplit ? 'all loads with the mini-split' : 'standing loads';
  }

  #isFresh(signal: string): boolean {
    const shown = this.#app.live.shown(signal);
    return shown !== null && shown.value !== null && shown.old === '';
  }
}
