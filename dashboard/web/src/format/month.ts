import type { NightRow } from '../../../../shared/schema/projection.ts';
import { drawnWh, restWh } from './night-words.ts';
import { fromCivil } from './zone.ts';

const NAMES = ['January', 'February', 'March', 'April', 'May', 'June', 'July', 'August', 'September', 'October', 'November', 'December'];
/** A night ends before this hour of the next day, and none that began on that day has ended by it. */
const BETWEEN_NIGHTS_H = 17;

/** The months of the rows, "2026-11", the newest first. */
export const monthsOf = (rows: readonly NightRow[]): string[] => [...new Set(rows.map(({ nightId }) => nightId.slice(0, 7)))].sort().reverse();

/** "November 2026". */
export function monthText(month: string): string {
  const [year, number] = month.split('-').map(Number);
  return `${NAMES[(number ?? 1) - 1]} ${year}`;
}

/** The month some months after another, or before it. */
export function monthAfter(month: string, by: number): string {
  const [year = 1970, number = 1] = month.split('-').map(Number);
  const at = new Date(Date.UTC(year, number - 1 + by));
  return at.toISOString().slice(0, 7);
}

/** The span within which the nights of a month end, by the zone's clock. */
export function monthSpan(month: string, zone: string): { fromMs: number; toMs: number } {
  const [year = 1970, number = 1] = month.split('-').map(Number);
  const at = (months: number) => fromCivil(year, number + months, 1, BETWEEN_NIGHTS_H, zone);
  return { fromMs: at(0), toMs: at(1) };
}

/** Totals and means over nights; null where no night knows. */
export interface MonthSums {
  readonly nights: number;
  readonly lowestPct: number | null;
  readonly meanLowPct: number | null;
  readonly minisplitWh: number | null;
  readonly restWh: number | null;
  readonly drawnWh: number | null;
  readonly panelsWh: number | null;
  readonly bankOutWh: number | null;
  readonly outsideMinC: number | null;
  readonly outsideMaxC: number | null;
  readonly dewPointC: number | null;
  readonly setpointC: number | null;
  /** Nights that know the energies that are summed up. */
  readonly nightsWith: { readonly minisplit: number; readonly rest: number };
}

export function monthSums(rows: readonly NightRow[]): MonthSums {
  const known = (pick: (row: NightRow) => number | null | undefined): number[] => rows.flatMap((row) => pick(row) ?? []);
  const sum = (values: readonly number[]) => (values.length === 0 ? null : values.reduce((a, b) => a + b, 0));
  const mean = (values: readonly number[]) => (values.length === 0 ? null : (sum(values) ?? 0) / values.length);
  const least = (values: readonly number[]) => (values.length === 0 ? null : Math.min(...values));
  const most = (values: readonly number[]) => (values.length === 0 ? null : Math.max(...values));
  const lows = known((row) => row.lowPointPct);
  const minisplit = known((row) => row.minisplitWh);
  const rest = known(restWh);
  return {
    nights: rows.length,
    lowestPct: least(lows),
    meanLowPct: mean(lows),
    minisplitWh: sum(minisplit),
    restWh: sum(rest),
    drawnWh: sum(known(drawnWh)),
    panelsWh: sum(known((row) => row.panelsWh)),
    bankOutWh: sum(known((row) => row.bankOutWh)),
    outsideMinC: least(known((row) => row.outsideMinC)),
    outsideMaxC: most(known((row) => row.outsideMaxC)),
    dewPointC: mean(known((row) => row.dewPointC)),
    setpointC: mean(known((row) => row.setpointC)),
    nightsWith: { minisplit: minisplit.length, rest: rest.length },
  };
}
