import type { NightRow } from '../../../../shared/schema/projection.ts';
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
    return [
      {
        what,
        one: text(one, a),
        other: text(other, b),
        difference: a === null || b === null ? '' : moreText(asWritten(b, kind, units) - asWritten(a, kind, units), kind, units),
      },
    ];
  });
}

/** A percentage that stays on one line. */
const together = (pct: number): string => percentOr(pct).replace(' ', '\u00a0');

/** What two nights come down to: "Sun 22 Nov fell to 48 %, Mon 23 Nov to 55 %: 7 points higher." */
export function compareHeadline(one: NightRow, other: NightRow): string {
  const more = Math.round(other.lowPointPct) - Math.round(one.lowPointPct);
  const outcome = more === 0 ? 'as low' : moreText(more, 'percent', 'metric');
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

/** A value as it is written, so that what is told of two is the difference of what stands there: whole percent, Wh or tenths of a kWh, degrees of the rig's units, minutes in ms. */
function asWritten(value: number, kind: Kind, units: Units): number {
  switch (kind) {
    case 'energy':
      return Math.abs(value) < 99.5 ? Math.round(value) : 1000 * Number((value / 1000).toFixed(1));
    case 'degrees':
      return Number((units === 'us' ? value * 1.8 + 32 : value).toFixed(0));
    case 'hours':
      return 60_000 * Math.round(value / 60_000);
    default:
      return Math.round(value);
  }
}

/** What the second value has more, as written, in words; '' where it is a time of day. */
function moreText(more: number, kind: Kind, units: Units): string {
  const size = Math.abs(more);
  if (kind === 'clock') return '';
  // Tenths of a kWh are not whole in binary.
  if (size < 0.5) return 'the same';
  switch (kind) {
    case 'percent':
      return `${pointsText(size)} ${more > 0 ? 'higher' : 'lower'}`;
    case 'energy':
      return `${energyText(size)} ${more > 0 ? 'more' : 'less'}`;
    case 'degrees':
      return `${size}${units === 'us' ? '°F' : ' K'} ${more > 0 ? 'warmer' : 'colder'}`;
    case 'hours':
      return `${spanHours(size)} ${more > 0 ? 'longer' : 'shorter'}`;
  }
}

/** "14 h 26 min", "40 min". */
function spanHours(spanMs: number): string {
  const minutes = Math.round(spanMs / 60_000);
  const hours = Math.floor(minutes / 60);
  return hours === 0 ? `${minutes} min` : `${hours} h ${String(minutes % 60).padStart(2, '0')} min`;
}
