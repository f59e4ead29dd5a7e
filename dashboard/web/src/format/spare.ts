import { chances } from '../../../../shared/help-text.ts';
import type { Projection } from '../../../../shared/schema/projection.ts';
import type { EpochMs } from '../../../../shared/units.ts';
import { energyText, powerText } from './quantity.ts';
import { clockTime } from './zone.ts';

/** Load that the example of a short draw has, W. */
const EXAMPLE_W = 1000;
/** Under this nothing worth drawing is left, Wh. */
const LEAST_WH = 20;

/**
 * Energy that can still be drawn from the bank before the low point so that the floor holds as often as the owner wants, Wh; negative: that is missing. From the
 * quantiles of the low point, straight between them; beyond the fifth it stays at the fifth. Null when energy and percent cannot be told apart. `confidence`: 0.5 to 1.
 */
export function spareWh({ lowPoint, floorPct, marginWh }: Projection, confidence: number): number | null {
  const overFloorPct = lowPoint.p50Pct - floorPct;
  if (Math.abs(overFloorPct) < 0.5) return null;
  return ((quantilePct(lowPoint, 1 - confidence) - floorPct) * marginWh) / overFloorPct;
}

function quantilePct(low: Projection['lowPoint'], share: number): number {
  const known = [
    [0.05, low.p5Pct],
    [0.1, low.p10Pct],
    [0.25, low.p25Pct],
    [0.5, low.p50Pct],
  ] as const;
  const above = known.findIndex(([at]) => at >= share);
  const [to, from] = [known[above] ?? known[3], known[above - 1]];
  return from ? from[1] + ((to[1] - from[1]) * (share - from[0])) / (to[0] - from[0]) : to[1];
}

/** What else can be drawn tonight, in a sentence or two; '' when nothing can be said. */
export function spareText(projection: Projection, confidence: number, nowMs: EpochMs, zone: string): string {
  const hours = (projection.lowPoint.tMs - nowMs) / 3_600_000;
  const wh = spareWh(projection, confidence);
  if (projection.verdict === 'unknown' || wh === null || hours <= 0) return '';
  const when = clockTime(projection.lowPoint.tMs, zone);
  if (wh < LEAST_WH) return `Nothing more can be drawn before ${when} if the floor is to hold ${chances(confidence)}, as you want.`;
  const minutes = (60 * wh) / EXAMPLE_W;
  const short = minutes < 60 * hours ? `, or ${powerText(EXAMPLE_W)} for ${Math.floor(minutes)} min` : '';
  return `About ${energyText(wh)} more can be drawn before ${when}, and the floor still holds ${chances(confidence)}, as you want: ${powerText(wh / hours)} all the time${short}.`;
}
