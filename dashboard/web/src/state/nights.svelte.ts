import type { LookBack } from '../../../../shared/schema/api.ts';
import type { DayRow } from '../../../../shared/schema/ledger.ts';
import type { NightRow } from '../../../../shared/schema/projection.ts';
import type { EpochMs } from '../../../../shared/units.ts';
import { trackRecord } from '../charts/track-record.ts';
import { getJson } from './api.ts';
import type { App } from './app.svelte.ts';

/** How far back the list goes, ms. */
const BACK_MS = 60 * 86_400_000;
/** And the list of days, ms. */
const DAYS_BACK_MS = 14 * 86_400_000;

/** The ledger of nights and days, the newest first, and the look back on them, fetched when the place is opened and on every reconnection. */
export class NightsState {
  readonly #app: App;
  rows = $state.raw<readonly NightRow[] | null>(null);
  days = $state.raw<readonly DayRow[] | null>(null);
  lookBack = $state.raw<LookBack | null>(null);
  fault = $state('');

  constructor(app: App) {
    this.#app = app;
  }

  readonly record = $derived.by(() => trackRecord(this.rows ?? []));

  /** Fetches all three, one after the other; what came before a fault stands. */
  async fetch(nowMs: EpochMs): Promise<void> {
    const range = (backMs: number) => `fromMs=${Math.floor(nowMs - backMs)}&toMs=${Math.ceil(nowMs)}`;
    this.fault = await this.#app.read(async () => {
      this.rows = (await getJson<NightRow[]>(`/api/nights?${range(BACK_MS)}`)).toReversed();
      this.days = (await getJson<DayRow[]>(`/api/days?${range(DAYS_BACK_MS)}`)).toReversed();
      this.lookBack = await getJson<LookBack>(`/api/look-back?${range(BACK_MS)}`);
    });
  }
}
