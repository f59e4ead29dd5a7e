import type { RigChange } from '../../../../shared/schema/rig-book.ts';
import type { Units } from '../format/quantity.ts';
import type { Faults } from './rule-entry.ts';
import { changesText, type Field, type Form, inUnits, rebased, refusalOf, THERE } from './setting-fields.ts';
import { formFor, SECTIONS, type SectionSpec, sectionFrom } from './setting-sections.ts';
import type { SettingsBook } from './settings-book.svelte.ts';

/** One section of the rig file in the making: what is typed, what is wrong in it, and what the box says to it. */
export class SettingEdit {
  readonly spec: SectionSpec;
  /** In which temperatures are typed. */
  units = $state<Units>('metric');
  readonly #book: SettingsBook;
  #section: object | null = null;
  #before = $state.raw<Form>({});
  form = $state<Form>({});
  faults = $state.raw<Faults>({});
  /** Why the box does not take it, where no field is to blame; '' when one is, or nothing was refused. */
  refused = $state('');
  /** What was saved last, in words. */
  said = $state('');
  isSending = $state(false);
  #sent: Promise<boolean> = Promise.resolve(true);
  readonly #settled = $derived.by<Form>(() => this.spec.settle?.(this.form) ?? this.form);
  readonly fields = $derived.by<readonly Field[]>(() => this.spec.fields(this.form));
  /** What differs from the rig file, in words. */
  readonly changes = $derived.by(() => changesText(this.fields, this.#before, this.#settled, this.units, this.spec.name));

  constructor(book: SettingsBook, what: SectionSpec['what']) {
    this.#book = book;
    this.spec = SECTIONS[what];
    this.#begin();
    this.form = { ...this.#before };
  }

  get isThere(): boolean {
    return this.form[THERE] === 'yes';
  }

  set isThere(there: boolean) {
    this.form[THERE] = there ? 'yes' : 'no';
  }

  #begin(): void {
    this.units = this.#book.book?.sections.rig.units ?? 'metric';
    this.#section = this.#book.book?.sections[this.spec.what] ?? null;
    this.#before = formFor(this.spec, this.#section, this.units);
  }

  /** The rig file may have become another: what was not touched follows it, what was typed stays. */
  follow(): void {
    const before = this.#before;
    const unitsBefore = this.units;
    this.#begin();
    const isUntouched = Object.keys(before).every((key) => before[key] === this.form[key]);
    // Rows that were added or taken out fit only the list they were typed for.
    if (isUntouched) this.form = { ...this.#before };
    else if (this.spec.what !== 'panels') this.form = rebased(inUnits(this.fields, this.form, before, unitsBefore, this.units), before, this.#before);
  }

  /** Drops what was typed. */
  reset(): void {
    this.form = { ...this.#before };
    this.faults = {};
    this.refused = '';
  }

  /** Hands what was changed to the box, once what is under way has arrived; resolves with whether it is in force, as it also is when nothing was changed. */
  submit(): Promise<boolean> {
    this.#sent = this.#sent.then(() => this.#send());
    return this.#sent;
  }

  async #send(): Promise<boolean> {
    this.refused = '';
    this.said = '';
    if (this.changes.length === 0) return true;
    const { section, faults, isRight } = sectionFrom(this.spec, $state.snapshot(this.#settled), { section: this.#section, form: this.#before }, this.units);
    this.faults = faults;
    if (!isRight) return false;
    const changes = this.changes.join('; ');
    this.isSending = true;
    const reason = await this.#book.edit({ what: this.spec.what, value: section } as RigChange);
    this.isSending = false;
    if (reason === '') {
      this.follow();
      this.reset();
      this.said = `Saved: ${changes}.`;
      return true;
    }
    // The book has been read again meanwhile.
    this.follow();
    const refusal = refusalOf(reason, this.fields);
    this.faults = refusal.faults;
    this.refused = refusal.rest;
    return false;
  }
}
