import type { NightRow } from '../../../../shared/schema/projection.ts';
import type { EpochMs } from '../../../../shared/units.ts';
import { trackRecord } from '../charts/track-record.ts';
import { getJson } from './api.ts';
import type { App } from './app.svelte.ts';

/** How far back the list goes, ms. */
const BACK_MS = 60 * 86_400_000;

/** The ledger of nights, the newest first, fetched when the place is opened and on every reconnection. */
export class NightsState {
  readonly #app: App;
  rows = $state.raw<readonly NightRow[] | null>(null);
  fault = $state('');

  constructor(app: App) {
    this.#app = app;
  }

  readonly record = $derived.by(() => trackRecord(this.rows ?? []));

  async fetch(nowMs: EpochMs): Promise<void> {
    this.fault = await this.#app.read(async () => {
      const rows = await getJson<NightRow[]>(`/api/nights?fromMs=${Math.floor(nowMs - BACK_MS)}&toMs=${Math.ceil(nowMs)}`);
      this.rows = rows.toReversed();
    });
  }
}
