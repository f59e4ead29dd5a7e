import { nearest } from '../charts/columns.ts';
import { energyText, powerText } from '../format/quantity.ts';
import { plainText, verdict } from '../format/verdict.ts';
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
    if (!p || p.verdict === 'unknown') return plainText(verdict(p, live.bank, null, this.curve.zone, 'metric').pieces);
    const points = Math.round(p.lowPoint.p50Pct) - Math.round(p.floorPct);
    const against = points >= 0 ? `${points} points above the floor` : `${-points} points under the floor`;
    return `Lowest ${Math.round(p.lowPoint.p50Pct)} % at ${clockTime(p.lowPoint.tMs, this.curve.zone)}, ${against}.`;
  });
  /** The slider runs over the projected part. */
  readonly reach = $derived.by(() => {
    const curve = this.projection?.curve ?? [];
    return { fromMs: curve[0]?.tMs ?? 0, toMs: curve.at(-1)?.tMs ?? 0 };
  });
  readonly scrubMs = $derived.by(() => this.curve.scrubMs ?? this.projection?.lowPoint.tMs ?? this.reach.fromMs);
  /** The moment looked at, in words. */
  readonly moment = $derived.by(() => {
    const at = nearest(this.projection?.curve ?? [], this.scrubMs);
    if (!at) return '';
    const draws = [`mini-split ${powerText(at.minisplitW)}`, `standing loads ${powerText(at.standingW)}`, `inverter ${powerText(at.inverterW)}`];
    const gives = at.panelsW >= 1 ? `, panels ${powerText(at.panelsW)}` : '';
    return `At ${clockTime(at.tMs, this.curve.zone)}: ${Math.round(at.p50Pct)} %, between ${Math.round(at.p10Pct)} and ${Math.round(at.p90Pct)} %. Expected: ${draws.join(', ')}${gives}.`;
  });
  readonly energies = $derived.by(() => {
    const energy = this.projection?.energyWh;
    if (!energy) return [];
    return [
      { label: 'Mini-split', text: energyText(energy.minisplit) },
      { label: 'Standing loads', text: energyText(energy.standing) },
      { label: 'Inverter', text: energyText(energy.inverter) },
      { label: 'Panels give', text: energyText(energy.panels) },
    ];
  });
}
