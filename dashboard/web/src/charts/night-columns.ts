import type { NightDetail, NightPoint } from '../../../../shared/schema/night-book.ts';
import type { EpochMs } from '../../../../shared/units.ts';
import { type Columns, toSeconds } from './columns.ts';

/** Points of a night lie on this grid, ms. */
export const POINT_MS = 600_000;

/** The points on a grid without holes; null where nothing was measured. */
export function onGrid({ points, fromMs, toMs }: Pick<NightDetail, 'points' | 'fromMs' | 'toMs'>): (NightPoint | { readonly tMs: EpochMs })[] {
  const byTime = new Map(points.map((point) => [point.tMs, point]));
  const grid: (NightPoint | { readonly tMs: EpochMs })[] = [];
  for (let tMs = POINT_MS * Math.ceil(fromMs / POINT_MS); tMs < toMs; tMs += POINT_MS) grid.push(byTime.get(tMs) ?? { tMs });
  return grid;
}

type Value = (point: Partial<NightPoint>) => number | null;

const columns = (night: Pick<NightDetail, 'points' | 'fromMs' | 'toMs'>, values: readonly Value[]): Columns => {
  const grid = onGrid(night);
  // A mean stands in the middle of its ten minutes.
  return [grid.map(({ tMs }) => toSeconds(tMs + POINT_MS / 2)), ...values.map((value) => grid.map(value))];
};

/** State of charge. */
export const chargeColumns = (night: NightDetail): Columns => columns(night, [({ socPct = null }) => socPct]);

/** A sum of powers; null where none of them is known. */
const sumW = (...powersW: (number | null | undefined)[]): number | null => {
  const known = powersW.filter((powerW) => powerW !== null && powerW !== undefined);
  return known.length === 0 ? null : known.reduce((a, b) => a + b, 0);
};

/** What is drawn, one on the other from the back: all, mini-split and standing loads, standing loads; then what comes from the panels and from other chargers. */
export const powerColumns = (night: NightDetail): Columns =>
  columns(night, [
    ({ standingW, minisplitW, inverterW }) => sumW(standingW, minisplitW, inverterW),
    ({ standingW, minisplitW }) => sumW(standingW, minisplitW),
    ({ standingW = null }) => standingW,
    ({ panelsW = null }) => panelsW,
    ({ chargersW = null }) => chargersW,
  ]);

/** Cabin, outside and setpoint, in the units that `degrees` gives. */
export const temperatureColumns = (night: NightDetail, degrees: (tempC: number) => number): Columns => {
  const of = (tempC: number | null | undefined) => (tempC === null || tempC === undefined ? null : degrees(tempC));
  return columns(night, [({ cabinC }) => of(cabinC), ({ outsideC }) => of(outsideC), ({ setpointC }) => of(setpointC)]);
};

/** The smallest span of round numbers, in steps, around what the columns hold; `least` it always covers. */
export function roundSpan([, ...series]: Columns, step: number, least: readonly [number, number]): [number, number] {
  const values = series.flatMap((cells) => cells.filter((cell) => typeof cell === 'number'));
  return [step * Math.floor(Math.min(least[0], ...values) / step), step * Math.ceil(Math.max(least[1], ...values) / step)];
}

/** A step that cuts a span into at most `most` parts: 1, 2 or 5 and powers of ten of them. */
export function roundStep(span: number, most: number): number {
  const power = 10 ** Math.floor(Math.log10(Math.max(span / most, 1e-9)));
  return [1, 2, 5, 10].map((factor) => factor * power).find((step) => span / step <= most) ?? 10 * power;
}

/** The moment that a night is aligned on beside another: its sunset, else its beginning. */
export const alignedOn = ({ row }: NightDetail): EpochMs => row.sunsetMs ?? row.startMs;

/** Both states of charge by the hours from their sunsets, at the points of either, from the earlier beginning to the later end. x in hours. */
export function alignedColumns(one: NightDetail, other: NightDetail): Columns {
  const sides = [one, other].map((night) => {
    const zeroMs = alignedOn(night);
    const within = night.points.filter(({ tMs }) => tMs >= night.row.startMs - POINT_MS && tMs <= night.row.endMs);
    return new Map(within.map(({ tMs, socPct }) => [Math.round((tMs + POINT_MS / 2 - zeroMs) / POINT_MS) * POINT_MS, socPct]));
  });
  const times = [...new Set(sides.flatMap((side) => [...side.keys()]))].sort((a, b) => a - b);
  const grid: number[] = [];
  for (let t = times[0] ?? 0; t <= (times.at(-1) ?? -1); t += POINT_MS) grid.push(t);
  return [grid.map((t) => t / 3_600_000), ...sides.map((side) => grid.map((t) => side.get(t) ?? null))];
}
