import type { Priority } from '../../../../shared/schema/alarm.ts';
import type { AlarmBook, RuleView, WatchableView } from '../../../../shared/schema/alarm-book.ts';
import type { Condition } from '../../../../shared/schema/alarm-rule.ts';
import { keptLimit, typedNumber } from '../format/limit.ts';
import type { Units } from '../format/quantity.ts';

export const TESTS = ['below', 'above', 'between', 'rising', 'falling', 'silent'] as const;
export type Test = (typeof TESTS)[number];
/** Tests that one level joins at most; more, or deeper ones, are changed in the rig file. */
export const MOST_TESTS = 4;

/** One test as it stands in the form, numbers as typed in the rig's units, spans in minutes. */
export interface TestForm {
  watch: string;
  test: Test;
  limit: string;
  to: string;
  minutes: string;
  deadband: string;
}

export interface LevelForm {
  priority: Priority;
  join: 'all' | 'any';
  tests: TestForm[];
  /** A condition that the form cannot hold; it stays as it is. */
  fixed: Condition | null;
  words: string;
}

/** A rule as it stands in the form. */
export interface RuleForm {
  title: string;
  levels: LevelForm[];
  onDelay: string;
  offDelay: string;
  message: string;
  /** The routes of its priority, or those named. */
  ownRoutes: boolean;
  routes: string[];
  unknown: 'raise' | 'ignore';
}

type Leaf = Extract<Condition, { watch: string }>;

export const minutesText = (seconds: number): string => String(Number((seconds / 60).toFixed(2)));

export const emptyTest = (): TestForm => ({ watch: '', test: 'above', limit: '', to: '', minutes: '', deadband: '' });

/** The form of a rule that is there, or of a new one. */
export function ruleForm(rule: RuleView | null, watchables: readonly WatchableView[], units: Units): RuleForm {
  if (!rule) {
    const level: LevelForm = { priority: 'medium', join: 'all', tests: [emptyTest()], fixed: null, words: '' };
    return { title: '', levels: [level], onDelay: '1', offDelay: '5', message: '', ownRoutes: false, routes: [], unknown: 'raise' };
  }
  return {
    title: rule.title,
    levels: rule.levels.map(({ priority, when, words }) => levelForm(priority, when, words, watchables, units)),
    onDelay: minutesText(rule.onDelayS),
    offDelay: minutesText(rule.offDelayS),
    message: rule.message,
    ownRoutes: rule.routes !== null,
    routes: [...(rule.routes ?? [])],
    unknown: rule.unknown,
  };
}

function levelForm(priority: Priority, when: Condition, words: string, watchables: readonly WatchableView[], units: Units): LevelForm {
  const join = 'any' in when ? 'any' : 'all';
  const parts = 'any' in when ? when.any : 'all' in when ? when.all : [when];
  const isSimple = parts.length <= MOST_TESTS && parts.every((part): part is Leaf => 'watch' in part);
  if (!isSimple) return { priority, join, tests: [], fixed: when, words };
  return { priority, join, tests: (parts as readonly Leaf[]).map((leaf) => testForm(leaf, watchables, units)), fixed: null, words };
}

function testForm(leaf: Leaf, watchables: readonly WatchableView[], units: Units): TestForm {
  const unit = watchables.find(({ name }) => name === leaf.watch)?.unit ?? '';
  const test = TESTS.find((kind) => leaf[kind] !== undefined) ?? 'above';
  const typed = (limit: number | string | undefined, isSpan = false) => {
    const kept = keptLimit(limit, unit, isSpan);
    return kept === null ? String(limit ?? '') : typedNumber(kept, unit, units, isSpan);
  };
  const isSpan = test === 'rising' || test === 'falling';
  const spanS = test === 'silent' ? leaf.silent : leaf.within;
  return {
    watch: leaf.watch,
    test,
    limit: test === 'between' ? typed(leaf.between?.[0]) : test === 'silent' ? '' : typed(leaf[test], isSpan),
    to: test === 'between' ? typed(leaf.between?.[1]) : '',
    minutes: spanS === undefined ? '' : minutesText(spanS),
    deadband: typed(leaf.deadband, true),
  };
}

/** An id for a rule of the person's own, made of its title; unlike all that are taken. */
export function ruleIdOf(title: string, book: Pick<AlarmBook, 'rules'>): string {
  const plain = title
    .normalize('NFKD')
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, '-')
    .replace(/^[^a-z]+|-+$/g, '')
    .slice(0, 40)
    .replace(/-+$/, '');
  const base = plain || 'my-rule';
  const isTaken = (id: string) => book.rules.some((rule) => rule.id === id);
  for (let n = 1; ; n++) {
    const id = n === 1 ? base : `${base}-${n}`;
    if (!isTaken(id)) return id;
  }
}
