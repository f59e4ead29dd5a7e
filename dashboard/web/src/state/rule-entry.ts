import type { AlarmBook, RuleView, WatchableView } from '../../../../shared/schema/alarm-book.ts';
import type { AlarmEntry, Condition } from '../../../../shared/schema/alarm-rule.ts';
import { readTyped } from '../format/limit.ts';
import type { Units } from '../format/quantity.ts';
import { type LevelForm, type RuleForm, ruleForm, ruleIdOf, type TestForm } from './rule-form.ts';

/** What is wrong, by field, in words. Fields of a test are called `level.test.field`. */
export type Faults = Readonly<Record<string, string>>;

/** Reads a form of rules; collects what is wrong. */
class Reader {
  readonly faults: Record<string, string> = {};
  readonly #watchables: ReadonlyMap<string, WatchableView>;
  readonly #units: Units;

  constructor(watchables: readonly WatchableView[], units: Units) {
    this.#watchables = new Map(watchables.map((one) => [one.name, one]));
    this.#units = units;
  }

  minutes(field: string, text: string, leastS: number, mostS: number): number {
    const seconds = (readTyped(text, '', this.#units) ?? Number.NaN) * 60;
    if (!(seconds >= leastS && seconds <= mostS)) {
      this.faults[field] = `Enter minutes from ${Number((leastS / 60).toFixed(2))} to ${mostS / 60}.`;
    }
    return Math.round(seconds);
  }

  level(level: LevelForm, index: number): Condition {
    if (level.fixed) return level.fixed;
    const parts = level.tests.map((test, i) => this.#test(test, `${index}.${i}`));
    const [only] = parts;
    if (parts.length === 1 && only) return only;
    return level.join === 'all' ? { all: parts } : { any: parts };
  }

  #test(form: TestForm, at: string): Condition {
    const watched = this.#watchables.get(form.watch);
    const unit = watched?.unit ?? '';
    if (!watched) this.faults[`${at}.watch`] = 'Choose what to watch.';
    const number = (field: 'limit' | 'to' | 'deadband', isSpan = false) => {
      const value = readTyped(form[field], unit, this.#units, isSpan);
      if (value === null) this.faults[`${at}.${field}`] = 'Enter a number.';
      else if (isSpan && value < 0) this.faults[`${at}.${field}`] = 'Enter how much, without a sign.';
      return value ?? 0;
    };
    const back = form.deadband.trim() === '' || form.test === 'silent' ? {} : { deadband: number('deadband', true) };
    const span = (leastS: number, mostS: number) => this.minutes(`${at}.minutes`, form.minutes, leastS, mostS);
    switch (form.test) {
      case 'below':
        return { watch: form.watch, below: number('limit'), ...back };
      case 'above':
        return { watch: form.watch, above: number('limit'), ...back };
      case 'between': {
        const ends: readonly [number, number] = [number('limit'), number('to')];
        if (this.faults[`${at}.limit`] === undefined && ends[1] <= ends[0]) this.faults[`${at}.to`] ??= 'Enter more than the first number.';
        return { watch: form.watch, between: ends, ...back };
      }
      case 'silent':
        if (watched && watched.kind !== 'signal') this.faults[`${at}.test`] = 'Only a sensor can fall silent; choose another test.';
        return { watch: form.watch, silent: span(10, 86_400) };
      case 'rising':
        return { watch: form.watch, rising: number('limit', true), within: span(60, 6 * 3600), ...back };
      default:
        return { watch: form.watch, falling: number('limit', true), within: span(60, 6 * 3600), ...back };
    }
  }
}

/**
 * The entry of the rig file that a form means; null while something in it is wrong. Of a rule that is there only what was changed is set,
 * where the box says what the file holds of it; else all of it.
 */
export function entryOf(form: RuleForm, rule: RuleView | null, book: AlarmBook, units: Units): { entry: AlarmEntry | null; faults: Faults } {
  const reader = new Reader(book.watchables, units);
  const { faults } = reader;
  if (form.title.trim() === '') faults.title = 'Give it a name of a few words.';
  if (form.ownRoutes && form.routes.length === 0) faults.routes = 'Choose at least one, or those of its priority.';
  const levels = form.levels.map((level, i) => ({ priority: level.priority, when: reader.level(level, i) }));
  const whole = {
    title: form.title.trim(),
    onDelay: reader.minutes('onDelay', form.onDelay, 0, 7200),
    offDelay: reader.minutes('offDelay', form.offDelay, 0, 7200),
    ...(form.message.trim() !== '' && { message: form.message.trim() }),
    unknown: form.unknown,
  };
  if (Object.keys(faults).length > 0) return { entry: null, faults };
  const [only] = levels;
  const when: Partial<AlarmEntry> = levels.length === 1 && only ? only : { levels };
  const routes: Partial<AlarmEntry> = form.ownRoutes ? { routes: [...form.routes] } : {};
  if (!rule || rule.entry === undefined) {
    const because = rule && rule.because.length > 0 ? { because: [...rule.because] } : {};
    const service = rule?.outOfService ? { outOfService: true } : {};
    return { entry: { id: rule?.id ?? ruleIdOf(form.title, book), ...whole, ...when, ...routes, ...because, ...service }, faults };
  }
  const before = ruleForm(rule, book.watchables, units);
  const isChanged = (key: keyof RuleForm) => JSON.stringify(form[key]) !== JSON.stringify(before[key]);
  const kept: AlarmEntry = { ...(rule.entry ?? { id: rule.id }) };
  const set: Partial<AlarmEntry> = {
    ...(isChanged('title') && { title: whole.title }),
    ...(isChanged('onDelay') && { onDelay: whole.onDelay }),
    ...(isChanged('offDelay') && { offDelay: whole.offDelay }),
    ...(isChanged('message') && whole.message !== undefined && { message: whole.message }),
    ...(isChanged('unknown') && { unknown: whole.unknown }),
    ...(isChanged('levels') && when),
    ...(isChanged('ownRoutes') || isChanged('routes') ? routes : {}),
  };
  if (isChanged('levels')) for (const key of ['when', 'priority', 'levels', 'notice', 'urgent'] as const) delete kept[key];
  if (isChanged('message') && whole.message === undefined) delete kept.message;
  if (isChanged('ownRoutes') && !form.ownRoutes) delete kept.routes;
  return { entry: { ...kept, ...set }, faults };
}

/** The entry that takes a rule out of service, or back into it. */
export function serviceEntry(rule: RuleView, outOfService: boolean): AlarmEntry {
  const { outOfService: _before, ...rest } = rule.entry ?? wholeOf(rule);
  return outOfService ? { ...rest, outOfService } : rest;
}

/** The edit that takes a rule out of service, or back into it; a built-in one of which the file then holds nothing else is as built in. */
export function serviceEdit(rule: RuleView): { what: 'rule'; entry: AlarmEntry } | { what: 'drop-rule'; ruleId: string } {
  const entry = serviceEntry(rule, !rule.outOfService);
  return rule.builtIn && Object.keys(entry).length === 1 ? { what: 'drop-rule', ruleId: rule.id } : { what: 'rule', entry };
}

function wholeOf(rule: RuleView): AlarmEntry {
  // A built-in alarm that the file does not adjust needs no more than its id.
  if (rule.builtIn && !rule.adjusted) return { id: rule.id };
  const { id, title, message, unknown } = rule;
  return {
    id,
    title,
    ...(message !== '' && { message }),
    unknown,
    levels: rule.levels.map(({ priority, when }) => ({ priority, when })),
    onDelay: rule.onDelayS,
    offDelay: rule.offDelayS,
    because: [...rule.because],
    ...(rule.routes && { routes: [...rule.routes] }),
  };
}
