import type { NightDetail } from '../../../../shared/schema/night-book.ts';
import { getJson } from './api.ts';
import type { App } from './app.svelte.ts';

/** Two nights side by side, the earlier one first. */
export class CompareState {
  readonly #app: App;
  nights = $state.raw<readonly [NightDetail, NightDetail] | null>(null);
  fault = $state('');
  #question = 0;

  constructor(app: App) {
    this.#app = app;
  }

  async fetch(ids: readonly [string, string]): Promise<void> {
    const question = ++this.#question;
    const [first, second] = [...ids].sort() as [string, string];
    this.fault = await this.#app.read(async () => {
      const one = await getJson<NightDetail>(`/api/night?nightId=${first}`);
      const other = await getJson<NightDetail>(`/api/night?nightId=${second}`);
      if (question === this.#question) this.nights = [one, other];
    });
  }
}
