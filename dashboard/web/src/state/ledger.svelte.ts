import { trackRecord } from '../charts/track-record.ts';
import { type ColumnId, filteredRows, NEWEST_FIRST, type Sorting, sortedRows, sortingAfter } from '../format/ledger-columns.ts';
import { monthSpan, monthsOf } from '../format/month.ts';
import type { When } from '../format/night-words.ts';
import { placeGroups } from '../format/place-groups.ts';
import type { NightsState } from './nights.svelte.ts';

/** How the ledger is looked at: by which column, which place and month, and which nights are ticked to be compared. */
export class LedgerView {
  readonly #nights: NightsState;
  sorting = $state.raw<Sorting>(NEWEST_FIRST);
  place = $state('');
  month = $state('');
  when = $state<When>('sunset');
  /** At most two nights, the one ticked first at first. */
  ticked = $state.raw<readonly string[]>([]);

  constructor(nights: NightsState) {
    this.#nights = nights;
  }

  readonly record = $derived.by(() => trackRecord(this.#nights.rows ?? [], this.when));
  readonly months = $derived.by(() => monthsOf(this.#nights.rows ?? []));
  readonly groups = $derived.by(() => placeGroups(this.#nights.rows ?? [], this.#nights.places));
  /** A place that is not called so any more filters nothing. */
  readonly #place = $derived.by(() => (this.groups.some(({ label }) => label === this.place) ? this.place : ''));
  readonly rows = $derived.by(() => {
    const { rows, places } = this.#nights;
    return sortedRows(filteredRows(rows ?? [], this.#place, this.month, places), this.sorting, places);
  });

  sortBy(by: ColumnId): void {
    this.sorting = sortingAfter(this.sorting, by);
  }

  /** Ticks a night or takes its tick away; of three the first one loses its. */
  tick(nightId: string): void {
    const others = this.ticked.filter((id) => id !== nightId);
    this.ticked = others.length < this.ticked.length ? others : [...others, nightId].slice(-2);
  }

  /** Where what is listed lies as a file for a spreadsheet. */
  get fileAddress(): string {
    const { fromMs, toMs, zone } = this.#nights;
    const asked = new URLSearchParams({ format: 'csv' });
    for (const [key, value] of Object.entries(this.month ? monthSpan(this.month, zone) : { fromMs: Math.floor(fromMs), toMs })) asked.set(key, String(value));
    const at = this.groups.find(({ label }) => label === this.#place)?.at;
    if (at) for (const [key, value] of Object.entries(at)) asked.set(key, String(value));
    return `/api/nights?${asked}`;
  }
}
