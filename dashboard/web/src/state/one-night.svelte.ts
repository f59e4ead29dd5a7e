import type { LedgerPlace } from '../../../../shared/schema/ledger.ts';
import type { NightDetail } from '../../../../shared/schema/night-book.ts';
import type { EpochMs } from '../../../../shared/units.ts';
import { getJson } from './api.ts';
import type { App } from './app.svelte.ts';

/** One night with all that is kept of it, and what the person writes to it. */
export class OneNight {
  readonly #app: App;
  night = $state.raw<NightDetail | null>(null);
  fault = $state('');
  /** The moment that is looked at; null: the low point. */
  scrubMs = $state<EpochMs | null>(null);
  note = $state('');
  placeName = $state('');
  /** What became of the last thing written, in words; '' before. */
  noteOutcome = $state('');
  placeOutcome = $state('');
  /** Answers that were overtaken by another night are dropped. */
  #question = 0;

  constructor(app: App) {
    this.#app = app;
  }

  readonly atMs = $derived.by(() => this.scrubMs ?? this.night?.row.lowPointMs ?? 0);

  /** Fetches a night; another one comes with a clean slate. */
  async open(nightId: string): Promise<void> {
    const question = ++this.#question;
    const isOther = this.night?.row.nightId !== nightId;
    if (isOther) {
      this.scrubMs = null;
      this.noteOutcome = '';
      this.placeOutcome = '';
    }
    const isUntouched = isOther || this.note === this.night?.note;
    this.fault = await this.#app.read(async () => {
      const night = await getJson<NightDetail>(`/api/night?nightId=${nightId}`);
      if (question !== this.#question) return;
      this.night = night;
      // What is being typed is not swept away by a reconnection.
      if (isUntouched) this.note = night.note;
      if (isOther) this.placeName = night.placeName;
    });
  }

  async saveNote(): Promise<void> {
    const night = this.night;
    if (!night) return;
    const note = this.note.trim();
    const refused = await this.#app.command({ kind: 'note-night', nightId: night.row.nightId, note });
    if (refused === '' && this.night === night) this.night = { ...night, note };
    this.noteOutcome = refused === '' ? (note === '' ? 'The note is gone.' : 'Kept.') : `Not kept: ${refused}`;
  }

  /** Resolves with whether it is kept. */
  async savePlace(place: LedgerPlace): Promise<boolean> {
    const name = this.placeName.trim();
    const refused = await this.#app.command({ kind: 'name-place', place, name });
    this.placeOutcome = refused === '' ? (name === '' ? 'The name is gone.' : 'Kept, for all nights here.') : `Not kept: ${refused}`;
    return refused === '';
  }
}
