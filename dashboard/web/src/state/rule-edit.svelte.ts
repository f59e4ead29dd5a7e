import type { AlarmBook, RuleView } from '../../../../shared/schema/alarm-book.ts';
import type { AlarmEntry } from '../../../../shared/schema/alarm-rule.ts';
import type { Units } from '../format/quantity.ts';
import type { AlarmBookState } from './alarm-book.svelte.ts';
import { entryOf, type Faults } from './rule-entry.ts';
import { ruleForm } from './rule-form.ts';
import { refusalFields } from './rule-refusal.ts';

/** A rule in the making: its form, what is wrong in it, and what the box says to it. */
export class RuleEdit {
  readonly rule: RuleView | null;
  readonly book: AlarmBook;
  readonly #state: AlarmBookState;
  readonly #units: Units;
  form = $state<ReturnType<typeof ruleForm>>(ruleForm(null, [], 'metric'));
  faults = $state.raw<Faults>({});
  /** Why the box does not take it, where no field is to blame; '' when one is, or nothing was refused. */
  refused = $state('');
  isSending = $state(false);

  /** @param rule  null: a new one */
  constructor(state: AlarmBookState, book: AlarmBook, rule: RuleView | null, units: Units) {
    this.rule = rule;
    this.book = book;
    this.#state = state;
    this.#units = units;
    this.form = ruleForm(rule, book.watchables, units);
  }

  get units(): Units {
    return this.#units;
  }

  /** The rule as typed, whatever it is called; null while something in it is wrong. */
  drafted(): AlarmEntry | null {
    const form = $state.snapshot(this.form);
    return entryOf({ ...form, title: form.title.trim() || 'A rule' }, this.rule, this.book, this.#units).entry;
  }

  /** Hands the rule to the box; resolves with whether it is in force. */
  async submit(): Promise<boolean> {
    if (this.isSending) return false;
    const { entry, faults } = entryOf($state.snapshot(this.form), this.rule, this.book, this.#units);
    this.faults = faults;
    this.refused = '';
    if (!entry) return false;
    this.isSending = true;
    const reason = await this.#state.edit({ what: 'rule', entry });
    this.isSending = false;
    if (reason === '') return true;
    const refusal = refusalFields(reason, this.form);
    this.faults = refusal.faults;
    this.refused = refusal.rest;
    return false;
  }
}
