import type { NightRow } from '../../../../shared/schema/projection.ts';
import { dropPct, missedPct, restWh } from './night-words.ts';

/** What a column is sorted by; null lies at the end either way. */
type Key = (row: NightRow, place: string) => number | string | null | undefined;

/** A column of the ledger: its heading, what it is sorted by, and which way first. */
export interface LedgerColumn {
  readonly id: ColumnId;
  readonly heading: string;
  readonly isNumber: boolean;
  readonly downFirst: boolean;
  readonly key: Key;
}
export type ColumnId = 'night' | 'place' | 'fell' | 'lowest' | 'against' | 'minisplit' | 'rest' | 'outside' | 'dew' | 'setpoint';

const column = (id: ColumnId, heading: string, key: Key, options: { isNumber?: boolean; downFirst?: boolean } = {}): LedgerColumn => ({
  id,
  heading,
  key,
  isNumber: options.isNumber ?? true,
  downFirst: options.downFirst ?? true,
});

export const LEDGER_COLUMNS: readonly LedgerColumn[] = [
  column('night', 'night', (row) => row.nightId, { isNumber: false }),
  column('place', 'place', (_, place) => place, { isNumber: false, downFirst: false }),
  column('fell', 'how it fell', (row) => dropPct(row), { isNumber: false }),
  column('lowest', 'lowest', (row) => row.lowPointPct, { downFirst: false }),
  column('against', 'against said', (row) => missedPct(row, 'sunset'), { downFirst: false }),
  column('minisplit', 'mini-split', (row) => row.minisplitWh),
  column('rest', 'all else', (row) => restWh(row)),
  column('outside', 'outside', (row) => row.outsideMinC, { downFirst: false }),
  column('dew', 'dew point', (row) => row.dewPointC),
  column('setpoint', 'setpoint', (row) => row.setpointC, { downFirst: false }),
];

export interface Sorting {
  readonly by: ColumnId;
  readonly down: boolean;
}
export const NEWEST_FIRST: Sorting = { by: 'night', down: true };

/** The sorting after a press on a heading: the other way round where it is sorted by already. */
export function sortingAfter(now: Sorting, by: ColumnId): Sorting {
  if (now.by === by) return { by, down: !now.down };
  return { by, down: LEDGER_COLUMNS.find(({ id }) => id === by)?.downFirst ?? true };
}

/** The rows in order; equal ones the newest first, those without a value last. `places`: what each night's place is called. */
export function sortedRows(rows: readonly NightRow[], { by, down }: Sorting, places: ReadonlyMap<string, string>): NightRow[] {
  const key = LEDGER_COLUMNS.find(({ id }) => id === by)?.key ?? (() => null);
  const keyed = rows.map((row) => ({ row, value: key(row, places.get(row.nightId) ?? '') ?? null }));
  return keyed
    .sort((a, b) => {
      if (a.value !== b.value) {
        if (a.value === null) return 1;
        if (b.value === null) return -1;
        const order = typeof a.value === 'string' && typeof b.value === 'string' ? a.value.localeCompare(b.value) : Number(a.value) - Number(b.value);
        if (order !== 0) return down ? -order : order;
      }
      return a.row.nightId < b.row.nightId ? 1 : -1;
    })
    .map(({ row }) => row);
}

/** Rows of a place and a month ("2026-11"); '' is all. */
export const filteredRows = (rows: readonly NightRow[], place: string, month: string, places: ReadonlyMap<string, string>): NightRow[] =>
  rows.filter(({ nightId }) => (place === '' || places.get(nightId) === place) && nightId.startsWith(month));
