import type { Format, TransferView } from '../../../../shared/schema/transfer.ts';
import { getJson } from './api.ts';
import type { App } from './app.svelte.ts';
import { sendFile } from './send-file.ts';

/** While it is shown, the box is asked this often how far it is, ms. */
const EVERY_MS = 1000;
const SILENCE = 'The box does not answer. The same file again goes on where this one ended.';

/** Readings out of the box and into it. */
export class Transfer {
  readonly #app: App;
  view = $state.raw<TransferView | null>(null);
  format = $state<Format>('csv');
  /** Days as YYYY-MM-DD; '' for no bound. */
  from = $state('');
  to = $state('');
  isPacked = $state(false);
  /** Signals that are left out. */
  without = $state.raw<ReadonlySet<string>>(new Set());
  file = $state.raw<File | null>(null);
  /** How much of the file has gone, 0 to 1; null while none is sent. */
  sentFrac = $state<number | null>(null);
  fault = $state('');

  constructor(app: App) {
    this.#app = app;
  }

  readonly names = $derived.by(() => this.#app.live.signals.map(({ name }) => name).sort());
  readonly wanted = $derived(this.names.filter((name) => !this.without.has(name)));
  readonly isBusy = $derived(this.sentFrac !== null || (this.view !== null && this.view.doing !== 'nothing'));
  /** Why nothing can be taken out as it is set; '' when it can. */
  readonly mistake = $derived(
    this.wanted.length === 0 && this.names.length > 0
      ? 'Choose at least one signal.'
      : this.from !== '' && this.to !== '' && this.from > this.to
        ? 'The first day lies after the last.'
        : '',
  );
  readonly address = $derived.by(() => {
    const query = new URLSearchParams({ format: this.format });
    if (this.from !== '') query.set('from', this.from);
    if (this.to !== '') query.set('to', this.to);
    // Of all signals, also those that the rig file names no longer.
    if (this.without.size > 0) query.set('signals', this.wanted.join(','));
    if (this.isPacked && this.format !== 'parquet') query.set('packed', 'yes');
    return `/api/export?${query}`;
  });

  choose(name: string, isWanted: boolean): void {
    const without = new Set(this.without);
    if (isWanted) without.delete(name);
    else without.add(name);
    this.without = without;
  }

  async bringIn(): Promise<void> {
    if (!this.file || this.isBusy) return;
    this.fault = '';
    this.sentFrac = 0;
    try {
      this.view = await sendFile<TransferView>('/api/import', this.file, SILENCE, { onSent: (share) => (this.sentFrac = share) });
    } catch (error) {
      this.fault = (error as Error).message;
    } finally {
      this.sentFrac = null;
    }
  }

  async look(): Promise<void> {
    if (document.visibilityState !== 'visible' || !this.#app.live.connected) return;
    await this.#app.read(async () => {
      this.view = await getJson<TransferView>('/api/transfer');
    });
  }

  /** Asks now and again; returns what ends it. */
  follow(): () => void {
    void this.look();
    const timer = setInterval(() => void this.look(), EVERY_MS);
    return () => clearInterval(timer);
  }
}
