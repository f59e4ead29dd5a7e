import type { LedgerPlace, Stay } from '../../shared/schema/ledger.ts';
import type { NightRow } from '../../shared/schema/projection.ts';
import { type Maybe, meanOf } from '../numeric/series.ts';
import { apartDeg } from '../sun/sun.ts';
import type { Place } from '../types.ts';

/** Nights further apart than this were spent at different stops, degrees of latitude (some 3 km). */
const SAME_STOP_DEG = 0.03;

const round = (value: number, digits: number): number => Math.round(value * 10 ** digits) / 10 ** digits;

/** A place as the ledger keeps it: to a hundredth of a degree. */
export const ledgerPlace = (place: Place | null): LedgerPlace | null =>
  place && { latitudeDeg: round(place.latitudeDeg, 2), longitudeDeg: round(place.longitudeDeg, 2) };

const isSameStop = (a: LedgerPlace | null, b: LedgerPlace | null): boolean => (a === null || b === null ? a === b : apartDeg(a, b) < SAME_STOP_DEG);

/** Nights in a row at one place as one row, oldest first. `rows` oldest first; a night whose place was not known stays with the one before. */
export function staysOf(rows: readonly NightRow[]): Stay[] {
  const stays: { place: LedgerPlace | null; rows: NightRow[] }[] = [];
  for (const row of rows) {
    const last = stays.at(-1);
    const place = row.place ?? null;
    if (last && (place === null || last.place === null || isSameStop(last.place, place))) {
      last.rows.push(row);
      last.place ??= place;
    } else stays.push({ place, rows: [row] });
  }
  return stays.map((stay) => stayOf(stay.place, stay.rows));
}

function stayOf(place: LedgerPlace | null, rows: readonly NightRow[]): Stay {
  const mean = (pick: (row: NightRow) => Maybe | undefined, digits = 1): Maybe => {
    const value = meanOf(rows.map((row) => pick(row) ?? null));
    return value === null ? null : round(value, digits);
  };
  return {
    place,
    fromNightId: (rows[0] as NightRow).nightId,
    toNightId: (rows.at(-1) as NightRow).nightId,
    nights: rows.length,
    minisplitWh: mean((row) => row.minisplitWh, 0),
    standingWh: mean((row) => row.standingWh, 0),
    bankOutWh: mean((row) => row.bankOutWh, 0) ?? 0,
    lowPointPct: mean((row) => row.lowPointPct) ?? 0,
    outsideMeanC: mean((row) => row.outsideMeanC),
    dewPointC: mean((row) => row.dewPointC),
  };
}
