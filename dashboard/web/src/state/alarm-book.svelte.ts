import type { AlarmBook } from '../../../../shared/schema/alarm-book.ts';
import type { Command } from '../../../../shared/schema/api.ts';
import { titlesOf } from '../format/alarm-words.ts';
import { getJson } from './api.ts';
import type { App } from './app.svelte.ts';
import { mayAct } from './paired.ts';

export type Edit = Extract<Command, { kind: 'edit-alarms' }>['change'];

/** All that is set up about alarms; fetched on opening, with every new connection and after an edit. */
export class AlarmBookState {
  readonly #app: App;
  book = $state.raw<AlarmBook | null>(null);
  fault = $state('');

  constructor(app: App) {
    this.#app = app;
  }

  /** What alarms are called. */
  readonly titles = $derived.by(() => new Map([...titlesOf(this.book?.rules ?? []), ...titlesOf(this.#app.live.alarms)]));

  /** Why nothing can be changed on this device; '' when it can. */
  get whyFixed(): string {
    if (!mayAct()) return 'This device may only look. Change it on another.';
    return this.book?.whyFixed ?? '';
  }

  async refresh(): Promise<void> {
    this.fault = await this.#app.read(async () => {
      this.book = await getJson<AlarmBook>('/api/alarm-book');
    });
  }

  /** Makes one change in the rig file; resolves with why not, '' when it is in force. */
  async edit(change: Edit): Promise<string> {
    if (!this.book || this.book.hash === null) return this.whyFixed || 'Nothing can be changed here.';
    const refused = await this.#app.command({ kind: 'edit-alarms', hash: this.book.hash, change });
    // Refused or not: the file may have changed.
    await this.refresh();
    return refused;
  }
}
