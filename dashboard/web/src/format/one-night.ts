import type { NightDetail, NightPoint } from '../../../../shared/schema/night-book.ts';
import type { NightRow } from '../../../../shared/schema/projection.ts';
import type { EpochMs } from '../../../../shared/units.ts';
import { againstText, drawnWh, energyOr, isInside, minisplitText, type When } from './night-words.ts';
import { energyText, percentText, powerText, temperatureText, type Units } from './quantity.ts';
import { clockTime, dateText } from './zone.ts';

const POINT_MS = 600_000;

/** The means of the ten minutes that hold a moment; null where there are none. */
export const pointAt = (points: readonly NightPoint[], tMs: EpochMs): NightPoint | null => points.find((p) => p.tMs <= tMs && tMs < p.tMs + POINT_MS) ?? null;

/** A percentage that stays on one line. */
const together = (pct: number): string => percentText(pct).replace(' ', '\u00a0');

/** What a night comes down to: "Tue 24 Nov: lowest 59 % at 08:30, 2 higher than said at sunset." */
export function nightHeadline(row: NightRow, zone: string): string {
  const against = againstText(row, 'sunset');
  const said = against === '–' ? '' : against === 'as said' ? ', as said at sunset' : `, ${against} than said at sunset`;
  return `${dateText(row.nightId)}: lowest ${together(row.lowPointPct)} at ${clockTime(row.lowPointMs, zone)}${said}.`;
}

/** The moment in words: "02:40: 71 %. Mini-split 190 W, standing loads 70 W, inverter 38 W. Cabin 24.1°, outside 18.2°, set to 24.0°." */
export function momentText(points: readonly NightPoint[], tMs: EpochMs, units: Units, zone: string): string {
  const point = pointAt(points, tMs);
  const clock = clockTime(tMs, zone);
  if (!point) return `${clock}: nothing was measured.`;
  const { socPct, minisplitW, standingW, inverterW, panelsW, chargersW, cabinC, outsideC, setpointC } = point;
  const listed = (items: readonly (readonly [string, number | null, (value: number) => string])[]) =>
    items.flatMap(([word, value, write]) => (value === null ? [] : [`${word} ${write(value)}`])).join(', ');
  const seldom = (powerW: number | null) => (powerW !== null && powerW >= 1 ? powerW : null);
  const powers = listed([
    ['mini-split', minisplitW, powerText],
    ['standing loads', standingW, powerText],
    ['inverter', inverterW, powerText],
    ['panels', seldom(panelsW), powerText],
    ['other chargers', seldom(chargersW), powerText],
  ]);
  const degrees = (tempC: number) => temperatureText(tempC, units);
  const air = listed([
    ['cabin', cabinC, degrees],
    ['outside', outsideC, degrees],
    ['set to', setpointC, degrees],
  ]);
  const sentences = [socPct === null ? 'state of charge not known' : percentText(socPct), powers, air].filter((part) => part !== '');
  return `${clock}: ${sentences.map((part, i) => (i === 0 ? part : part.charAt(0).toUpperCase() + part.slice(1))).join('. ')}.`;
}

/** What was said of the low point at a moment of the night. */
export interface SaidLine {
  readonly when: string;
  readonly said: string;
  readonly range: string;
  readonly outcome: string;
}

const SPACING_MS = 2 * 3_600_000;

/** What was said through the night, at sunset and bedtime by name, else every two hours; oldest first. */
export function saidLines({ row, said }: NightDetail, zone: string): SaidLine[] {
  const named = (when: When): SaidLine[] => {
    const q = (when === 'sunset' ? row.projectedAtSunset : row.projectedAtBedtime)?.lowPoint;
    return q ? [line(`at ${when}`, q, row)] : [];
  };
  const rest: NightDetail['said'] = [];
  for (const one of said)
    if (one.tMs >= (rest.at(-1)?.tMs ?? (row.sunsetMs ?? row.startMs) + SPACING_MS / 2) + SPACING_MS && one.tMs < row.lowPointMs) rest.push(one);
  return [...named('sunset'), ...named('bedtime'), ...rest.map((one) => line(clockTime(one.tMs, zone), one, row))];
}

type Quantiles = { readonly p10Pct: number; readonly p50Pct: number; readonly p90Pct: number };

function line(when: string, { p10Pct, p50Pct, p90Pct }: Quantiles, { lowPointPct }: NightRow): SaidLine {
  const points = Math.round(Math.abs(lowPointPct - p50Pct));
  const came = points === 0 ? 'came as said' : `came ${points} ${lowPointPct > p50Pct ? 'higher' : 'lower'}`;
  const isIn = lowPointPct >= p10Pct && lowPointPct <= p90Pct;
  return { when, said: percentText(p50Pct), range: `${Math.round(p10Pct)} to ${percentText(p90Pct)}`, outcome: `${came}, ${isIn ? 'inside' : 'outside'}` };
}

/** Energies of a night in words, those that are nothing and seldom left out. */
export function energyLines(row: NightRow): (readonly [string, string])[] {
  const seldom = (what: string, wh: number | undefined): (readonly [string, string])[] => (wh !== undefined && wh >= 1 ? [[what, energyText(wh)]] : []);
  return [
    ['mini-split', minisplitText(row)],
    ['standing loads', energyOr(row.standingWh)],
    ['inverter', energyOr(row.inverterWh)],
    ['all that was drawn', energyOr(drawnWh(row))],
    ['from the bank', energyText(row.bankOutWh)],
    ['from the panels', energyText(row.panelsWh)],
    ...seldom('from other chargers', row.chargersWh),
    ...seldom('from no known source', row.unexplainedChargeWh),
    ...seldom('sun unused, about', row.surplusWh),
  ];
}

/** Whether the low point lies in what was said at sunset; a night of which nothing was said counts as inside. */
export const cameInside = (row: NightRow): boolean => isInside(row, 'sunset') ?? true;
