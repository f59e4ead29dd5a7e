import type { NightRow } from '../../../../shared/schema/projection.ts';
import { monthSpan } from '../format/month.ts';
import { getJson } from './api.ts';
import type { App } from './app.svelte.ts';

/** The nights of one month, oldest first, all of them however far the ledger goes back. */
export class MonthState {
  readonly #app: App;
  month = $state('');
  rows = $state.raw<readonly NightRow[] | null>(null);
  fault = $state('');

  constructor(app: App) {
    this.#app = app;
  }

  async fetch(month: string, zone: string): Promise<void> {
    if (this.month !== month) this.rows = null;
    this.month = month;
    const { fromMs, toMs } = monthSpan(month, zone);
    this.fault = await this.#app.read(async () => {
      const rows = await getJson<NightRow[]>(`/api/nights?fromMs=${fromMs}&toMs=${toMs}`);
      if (this.month === month) this.rows = rows;
    });
  }
}
