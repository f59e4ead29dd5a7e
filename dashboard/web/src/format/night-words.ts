import type { NightRow } from '../../../../shared/schema/projection.ts';
import { energyText, percentText, temperatureText, type Units } from './quantity.ts';

/** The moments at which a night's projection is judged. */
export type When = 'sunset' | 'bedtime';
export const WHENS: readonly When[] = ['sunset', 'bedtime'];

/** What was said of a night's low point at a moment; null where nothing was. */
export const saidAt = (row: NightRow, when: When) => (when === 'sunset' ? row.projectedAtSunset : row.projectedAtBedtime)?.lowPoint ?? null;

/** What came less what was said, points; null where nothing was said. */
export function missedPct(row: NightRow, when: When): number | null {
  const said = saidAt(row, when);
  return said === null ? null : row.lowPointPct - said.p50Pct;
}

/** Whether what came lies in the range said, p10 to p90, ends included; null where nothing was said. */
export function isInside(row: NightRow, when: When): boolean | null {
  const said = saidAt(row, when);
  return said === null ? null : row.lowPointPct >= said.p10Pct && row.lowPointPct <= said.p90Pct;
}

/** "2 higher", "1 lower", "as said"; '–' where nothing was said. */
export function againstText(row: NightRow, when: When): string {
  const missed = missedPct(row, when);
  if (missed === null) return '–';
  const points = Math.round(Math.abs(missed));
  return points === 0 ? 'as said' : `${points} ${missed > 0 ? 'higher' : 'lower'}`;
}

/** All that was drawn but the mini-split, Wh; null when it is not known. */
export const restWh = ({ standingWh, inverterWh }: NightRow): number | null => (standingWh === null ? null : standingWh + (inverterWh ?? 0));

/** All that was drawn, Wh; null when the loads are not known. */
export function drawnWh(row: NightRow): number | null {
  const rest = restWh(row);
  return rest === null ? null : rest + (row.minisplitWh ?? 0);
}

/** How far the bank fell, points. */
export const dropPct = ({ startSocPct, lowPointPct }: NightRow): number => startSocPct - lowPointPct;

export const energyOr = (wh: number | null | undefined): string => (wh === null || wh === undefined ? '–' : energyText(wh));
export const percentOr = (pct: number | null | undefined): string => (pct === null || pct === undefined ? '–' : percentText(pct));
export const degreesOr = (tempC: number | null | undefined, units: Units): string =>
  tempC === null || tempC === undefined ? '–' : temperatureText(tempC, units, 0);

/** The mini-split's energy; without a measurement its part is told by the weather. */
export const minisplitText = (row: NightRow): string =>
  row.minisplitWh !== null && row.minisplitEstimated ? `about ${energyText(row.minisplitWh)}` : energyOr(row.minisplitWh);

/** "16 to 31°"; "from 7°" for a night whose highest was not kept. */
export function outsideText({ outsideMinC, outsideMaxC }: Pick<NightRow, 'outsideMinC' | 'outsideMaxC'>, units: Units): string {
  if (outsideMinC === null) return '–';
  const low = temperatureText(outsideMinC, units, 0);
  if (outsideMaxC === null || outsideMaxC === undefined) return `from ${low}`;
  const high = temperatureText(outsideMaxC, units, 0);
  return low === high ? low : `${low.replace('°', '')} to ${high}`;
}
