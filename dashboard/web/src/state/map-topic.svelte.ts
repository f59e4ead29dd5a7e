import type { SignalSpec } from '../../../../shared/schema/rig-file.ts';
import type { MappingTrial } from '../../../../shared/schema/sensor-book.ts';
import { EMPTY_FORM, formFaults, formOf, type MappingForm, nameOf, specOf, withSignal } from '../format/mapping-form.ts';
import { type Field, fieldId } from '../format/payload-tree.ts';
import { postJson } from './api.ts';
import type { App } from './app.svelte.ts';
import type { SettingsBook } from './settings-book.svelte.ts';
import { TopicWatch } from './topic-watch.svelte.ts';

/** What is typed is tried after this pause, ms. */
const PAUSE_MS = 250;

/** A topic on its way to a signal: the field, the signal, how it is read, what that gives now, and the edit of the rig file. */
export class MapTopicFlow {
  readonly #app: App;
  readonly book: SettingsBook;
  readonly watch: TopicWatch;
  fieldKey = $state('');
  form = $state<MappingForm>({ ...EMPTY_FORM });
  trial = $state.raw<MappingTrial | null>(null);
  /** True once what is chosen may be found faulty: after the first try to save. */
  isChecked = $state(false);
  isSaving = $state(false);
  refused = $state('');
  /** The mapping that is being changed; null for a new one. */
  #before: SignalSpec | null = null;
  readonly #preset: string;
  #asked = 0;
  #timer: ReturnType<typeof setTimeout> | undefined;

  /** @param preset  the signal that it is for; '' where it is still to be chosen */
  constructor(app: App, book: SettingsBook, topic: string, preset: string, fieldKey: string) {
    this.#app = app;
    this.book = book;
    this.watch = new TopicWatch(app, topic);
    this.#preset = preset;
    this.fieldKey = fieldKey;
  }

  readonly fields = $derived.by(() => this.watch.view?.fields ?? []);
  readonly field = $derived.by((): Field | null => this.fields.find((field) => fieldId(field) === this.fieldKey) ?? null);
  readonly name = $derived.by(() => nameOf(this.form));
  readonly faults = $derived.by(() => formFaults(this.form));
  readonly mapped = $derived.by(() => (this.book.book?.signals ?? []).map(({ name }) => name));
  /** Where the chosen signal is read from now, when that is another place than this one; '' else. */
  readonly replaces = $derived.by(() => {
    const spec = this.book.book?.signals.find(({ name }) => name === this.name)?.spec;
    if (!spec || this.field?.usedBy === this.name) return '';
    return spec.sum ? `the sum of ${spec.sum.length} topics` : `${spec.topic}${spec.pointer ?? (spec.name === undefined ? '' : ` ${spec.name}`)}`;
  });

  /** Follows the topic while it is open; returns what ends it. */
  follow(): () => void {
    const stop = this.watch.follow(() => {
      this.#begin();
      void this.try();
    });
    return () => {
      stop();
      clearTimeout(this.#timer);
    };
  }

  /** With the first message: the mapping that there is, else the one field there is, else the likeliest for the signal asked for. */
  #begin(): void {
    if (this.form.signal !== '' || this.fields.length === 0 || !this.book.book) return;
    const spec = this.book.book.signals.find(({ name }) => name === this.#preset)?.spec;
    const used = this.fields.find(({ usedBy }) => usedBy === this.#preset);
    if (this.#preset !== '' && spec && !spec.sum && used && this.fieldKey === '') {
      this.#before = spec;
      this.fieldKey = fieldId(used);
      this.form = formOf(this.#preset, spec);
      return;
    }
    const guessed = this.fields.find(({ likely }) => likely.some(({ signal }) => signal === this.#preset));
    const first = this.field ?? (this.#preset === '' ? (this.fields.length === 1 ? this.fields[0] : undefined) : guessed);
    if (first && (this.fieldKey === '' || this.#preset !== '')) this.pick(first);
  }

  /** A touch on a value. The signal is the one asked for, else the likeliest, where nothing reads it yet. */
  pick(field: Field): void {
    this.fieldKey = fieldId(field);
    if (this.#before) {
      this.changed();
      return;
    }
    const likeliest = field.likely.find(({ signal }) => !this.mapped.includes(signal))?.signal ?? '';
    this.choose(this.#preset || likeliest);
  }

  choose(signal: string): void {
    if (this.field) this.form = withSignal(this.form, signal, this.field);
    this.changed();
  }

  /** Something of the form is another now: what it gives is asked soon. */
  changed(): void {
    this.refused = '';
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => void this.try(), PAUSE_MS);
  }

  get spec(): SignalSpec | null {
    const topic = this.watch.view?.topic;
    return this.field && topic !== undefined && this.name !== '' ? specOf(this.form, topic, this.field, this.#before) : null;
  }

  /** Asks what the mapping as it stands would give; a slower answer to an earlier question is dropped. */
  async try(): Promise<void> {
    const { spec, name } = this;
    if (!spec) {
      this.trial = null;
      return;
    }
    const asked = ++this.#asked;
    await this.#app.read(async () => {
      const trial = await postJson<MappingTrial>('/api/try-mapping', { signal: name, spec });
      if (asked === this.#asked) this.trial = trial;
    });
  }

  turnSign(): void {
    this.form = { ...this.form, chargingIs: this.form.chargingIs === 'positive' ? 'negative' : 'positive' };
    this.changed();
  }

  /** Writes it into the rig file; true when it is in force. */
  async save(): Promise<boolean> {
    this.isChecked = true;
    const { spec } = this;
    if (this.isSaving || !spec || Object.keys(this.faults).length > 0) return false;
    this.isSaving = true;
    this.refused = await this.book.edit({ what: 'signal', name: this.name, spec });
    this.isSaving = false;
    return this.refused === '';
  }
}
