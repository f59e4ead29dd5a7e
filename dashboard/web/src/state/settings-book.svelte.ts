import type { RigBook, RigChange } from '../../../../shared/schema/rig-book.ts';
import { getJson } from './api.ts';
import type { App } from './app.svelte.ts';
import { mayAct } from './paired.ts';

/** The rig's settings and the box that it runs on; fetched on opening, with every new connection and after an edit. */
export class SettingsBook {
  readonly #app: App;
  book = $state.raw<RigBook | null>(null);
  fault = $state('');

  constructor(app: App) {
    this.#app = app;
  }

  /** Why nothing can be changed on this device; '' when it can. */
  get whyFixed(): string {
    if (!mayAct()) return 'This device may only look. Change settings on another.';
    return this.book?.whyFixed ?? '';
  }

  async refresh(): Promise<void> {
    this.fault = await this.#app.read(async () => {
      this.book = await getJson<RigBook>('/api/rig-book');
    });
  }

  /** Makes one change in the rig file; resolves with why not, '' when it is in force. */
  async edit(change: RigChange): Promise<string> {
    if (!this.book || this.book.hash === null) return this.whyFixed || 'Nothing can be changed here.';
    const refused = await this.#app.command({ kind: 'edit-rig', hash: this.book.hash, change });
    // Refused or not: the file may have changed.
    await this.refresh();
    return refused;
  }
}
