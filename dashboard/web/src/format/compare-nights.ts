import type { NightRow } from '../../../../shared/schema/projection.ts';
import { differenceText } from '../../../../shared/value-text.ts';
import { degreesOr, drawnWh, energyOr, minisplitText, percentOr, restWh } from './night-words.ts';
import { energyText, pointsText, type Units } from './quantity.ts';
import { clockTime, dateText } from './zone.ts';

/** A figure of two nights and what the second has more or less; '' where that cannot be said or is nothing. */
export interface Difference {
  readonly what: string;
  readonly one: string;
  readonly other: string;
  readonly difference: string;
}

type Kind = 'percent' | 'energy' | 'degrees' | 'hours' | 'clock';
type Pick = (row: NightRow) => number | null | undefined;

const FIGURES: readonly (readonly [what: string, kind: Kind, pick: Pick, write?: (row: NightRow) => string])[] = [
  ['charge at first', 'percent', (row) => row.startSocPct],
  ['lowest', 'percent', (row) => row.lowPointPct],
  ['lowest at', 'clock', (row) => row.lowPointMs],
  ['lowest, said at sunset', 'percent', (row) => row.projectedAtSunset?.lowPoint.p50Pct],
  ['charge at sunrise', 'percent', (row) => row.sunriseSocPct],
  ['sunset to sunrise', 'hours', (row) => (row.sunsetMs === null || row.sunriseMs === null ? null : row.sunriseMs - row.sunsetMs)],
  ['sunrise to takeover', 'hours', (row) => (row.takeoverMs === null || row.sunriseMs === null ? null : row.takeoverMs - row.sunriseMs)],
  ['all that was drawn', 'energy', drawnWh],
  ['mini-split', 'energy', (row) => row.minisplitWh, minisplitText],
  ['all else', 'energy', restWh],
  ['from the panels', 'energy', (row) => row.panelsWh],
  ['from other chargers', 'energy', (row) => row.chargersWh],
  ['outside, lowest', 'degrees', (row) => row.outsideMinC],
  ['outside, mean', 'degrees', (row) => row.outsideMeanC],
  ['outside, highest', 'degrees', (row) => row.outsideMaxC],
  ['dew point outside', 'degrees', (row) => row.dewPointC],
  ['cabin, mean', 'degrees', (row) => row.cabinMeanC],
  ['setpoint', 'degrees', (row) => row.setpointC],
];

/** What two nights have in common and what not, in the order in which it is asked after; figures that neither knows are left out. */
export function differences(one: NightRow, other: NightRow, units: Units, zone: string): Difference[] {
  return FIGURES.flatMap(([what, kind, pick, write]) => {
    const [a, b] = [pick(one) ?? null, pick(other) ?? null];
    if (a === null && b === null) return [];
    const text = (row: NightRow, value: number | null) => (value === null ? '–' : (write?.(row) ?? valueText(value, kind, units, zone)));
    return [{ what, one: text(one, a), other: text(other, b), difference: a === null || b === null ? '' : moreText(b - a, kind, units, [a, b]) }];
  });
}

/** A percentage that stays on one line. */
const together = (pct: number): string => percentOr(pct).replace(' ', '\u00a0');

/** What two nights come down to: "Sun 22 Nov fell to 48 %, Mon 23 Nov to 55 %: 7 points higher." */
export function compareHeadline(one: NightRow, other: NightRow): string {
  const more = other.lowPointPct - one.lowPointPct;
  const outcome = Math.abs(more) < 0.5 ? 'as low' : `${pointsText(more)} ${more > 0 ? 'higher' : 'lower'}`;
  return `${dateText(one.nightId)} fell to ${together(one.lowPointPct)}, ${dateText(other.nightId)} to ${together(other.lowPointPct)}: ${outcome}.`;
}

function valueText(value: number, kind: Kind, units: Units, zone: string): string {
  switch (kind) {
    case 'percent':
      return percentOr(value);
    case 'energy':
      return energyOr(value);
    case 'degrees':
      return degreesOr(value, units);
    case 'clock':
      return clockTime(value, zone);
    case 'hours':
      return spanHours(value);
  }
}

/** What the second value has more, in words; '' where both are written alike or it is a time of day. */
function moreText(more: number, kind: Kind, units: Units, [a, b]: readonly [number, number]): string {
  switch (kind) {
    case 'percent':
      return Math.abs(more) < 0.5 ? 'the same' : `${pointsText(more)} ${more > 0 ? 'higher' : 'lower'}`;
    case 'energy':
      return energyText(a) === energyText(b) ? 'the same' : `${energyText(Math.abs(more))} ${more > 0 ? 'more' : 'less'}`;
    case 'degrees':
      return Math.abs(more) < 0.25 ? 'the same' : `${differenceText(Math.abs(more), units)} ${more > 0 ? 'warmer' : 'colder'}`;
    case 'hours':
      return Math.abs(more) < 60_000 ? 'the same' : `${spanHours(Math.abs(more))} ${more > 0 ? 'longer' : 'shorter'}`;
    case 'clock':
      return '';
  }
}

/** "14 h 26 min", "40 min". */
function spanHours(spanMs: number): string {
  const minutes = Math.round(spanMs / 60_000);
  const hours = Math.floor(minutes / 60);
  return hours === 0 ? `${minutes} min` : `${hours} h ${String(minutes % 60).padStart(2, '0')} min`;
}
