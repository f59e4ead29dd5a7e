import { nearest } from '../nearest.ts';
import type { Condition, NumericCondition } from '../schema/alarm-rule.ts';
import type { RuleIssue } from './issue.ts';
import { inUnit, limitOf, rangeWords } from './limit.ts';
import { type RuleContext, type Watchable, watchableNames, watchableOf } from './watchable.ts';

type Leaf = Extract<Condition, { watch: string }>;
type Path = readonly (string | number)[];

const TESTS = ['below', 'above', 'between', 'silent', 'rising', 'falling'] as const;

/** What resolving a condition goes by. */
export interface Resolving {
  readonly context: RuleContext;
  /** For limits that have none of their own; `path`: where the person wrote it, null where it is built in. */
  readonly deadband: { readonly given: number | string; readonly path: Path | null } | null;
  /** The condition is built in: what is not mapped is no mistake. */
  readonly builtIn: boolean;
  readonly tell: (issue: RuleIssue) => void;
  /** Signals that are needed and not mapped are noted here. */
  readonly missing: Set<string>;
}

/** A condition with its numbers in the units kept; null where it has a mistake, which is told. */
export function resolveCondition(given: Condition, path: Path, by: Resolving, isInverted = false): NumericCondition | null {
  if ('watch' in given) return resolveLeaf(given, path, by, isInverted);
  if ('alarm' in given) return given;
  if ('not' in given) {
    const part = resolveCondition(given.not, [...path, 'not'], by, !isInverted);
    return part && { not: part };
  }
  const key = 'all' in given ? 'all' : 'any';
  const parts = ('all' in given ? given.all : given.any).map((part, i) => resolveCondition(part, [...path, key, i], by, isInverted));
  const whole = parts.filter((part) => part !== null);
  if (whole.length < parts.length) return null;
  return key === 'all' ? { all: whole } : { any: whole };
}

function resolveLeaf(leaf: Leaf, path: Path, by: Resolving, isInverted: boolean): NumericCondition | null {
  const tests = TESTS.filter((test) => leaf[test] !== undefined);
  const [test] = tests;
  if (test === undefined || tests.length > 1) {
    const got = test === undefined ? 'no test' : tests.join(' and ');
    by.tell({ path, got, expected: `one of ${TESTS.join(', ')} beside watch`, hint: tests.length > 1 ? 'join several conditions with all or any' : '' });
    return null;
  }
  if (leaf.within !== undefined && test !== 'rising' && test !== 'falling') {
    by.tell({ path: [...path, 'within'], expected: 'rising or falling beside it', hint: 'leave it out; onDelay says how long a condition must stand' });
  }
  const watchable = watchableOf(leaf.watch, by.context);
  if (watchable === 'unsure') return null;
  if (watchable === null || watchable.wordsOnly) {
    const near = nearest(leaf.watch, watchableNames(by.context));
    by.tell({ path: [...path, 'watch'], expected: 'a signal of this rig, or a derived or projected quantity', hint: near ? `did you mean "${near}"?` : '' });
    return null;
  }
  for (const signal of watchable.missing) by.missing.add(signal);
  if (watchable.missing.length > 0 && !by.builtIn) {
    const isItself = watchable.missing[0] === leaf.watch;
    const needs = watchable.missing.join(' and ');
    by.tell({
      path: [...path, 'watch'],
      expected: isItself ? 'a signal that is mapped under signals' : `${needs} under signals, without which it is never known`,
      hint: `map ${needs} first`,
    });
    return null;
  }
  if (test === 'silent') return resolveSilent(leaf, path, watchable, by);
  if (test === 'rising' || test === 'falling') return resolveRate(leaf, test, path, watchable, by);
  return test === 'between' ? resolveBetween(leaf, path, watchable, by, isInverted) : resolveLimit(leaf, test, path, watchable, by, isInverted);
}

function resolveSilent({ watch, silent = 0 }: Leaf, path: Path, { everyS }: Watchable, by: Resolving): NumericCondition | null {
  if (everyS === null) {
    by.tell({ path: [...path, 'silent'], expected: 'a signal to watch', hint: 'a quantity that is not known is told of by itself' });
    return null;
  }
  if (silent <= everyS) {
    by.tell({ path: [...path, 'silent'], expected: `more than ${everyS} s, since it is sent only so often`, hint: 'three times that is a good choice' });
    return null;
  }
  return { watch, test: 'silent', forS: silent };
}

/** A limit in the unit kept; null where it is none, which is told. */
function number(given: number | string, watchable: Watchable, path: Path, isDifference: boolean, by: Resolving): number | null {
  const limit = limitOf(given, watchable, isDifference);
  if (typeof limit === 'number') return limit;
  by.tell({ path, expected: limit, hint: '' });
  return null;
}

/** A deadband within `room`, the most that still lets the alarm end. A built-in one makes do with half of that. */
function deadbandOf(leaf: Leaf, path: Path, watchable: Watchable, room: number, by: Resolving): number | null {
  // What a person says of a built-in alarm counts for its limits too.
  const isAdjusted = by.builtIn && by.deadband !== null && by.deadband.path !== null;
  const own = leaf.deadband !== undefined && !isAdjusted;
  const given = (isAdjusted ? by.deadband?.given : undefined) ?? leaf.deadband ?? by.deadband?.given ?? watchable.deadband;
  const writtenAt = own ? (by.builtIn ? null : [...path, 'deadband']) : by.deadband ? by.deadband.path : null;
  const band = number(given, watchable, writtenAt ?? path, true, by);
  if (band === null) return null;
  if (band >= 0 && (band === 0 || band < room)) return band;
  if (writtenAt === null) return Math.max(0, Math.min(band, room / 2));
  const unit = watchable.unit === 'Cel' ? 'K' : watchable.unit;
  by.tell({ path: writtenAt, expected: `from 0 to under ${inUnit(room, unit)}, since the alarm would never end with more`, hint: '' });
  return null;
}

function resolveRate(leaf: Leaf, test: 'rising' | 'falling', path: Path, watchable: Watchable, by: Resolving): NumericCondition | null {
  const { watch, within } = leaf;
  if (within === undefined) {
    by.tell({ path, got: `${test} alone`, expected: 'within beside it', hint: 'such as within: 10 min' });
    return null;
  }
  const span = watchable.range[1] - watchable.range[0];
  const by_ = number(leaf[test] ?? 0, watchable, [...path, test], true, by);
  if (by_ === null) return null;
  if (!(by_ > 0 && by_ <= span)) {
    const unit = watchable.unit === 'Cel' ? 'K' : watchable.unit;
    by.tell({ path: [...path, test], expected: `more than 0 and at most ${inUnit(span, unit)}, which is all that it can change`, hint: '' });
    return null;
  }
  const deadband = deadbandOf(leaf, path, watchable, by_, by);
  return deadband === null ? null : { watch, test, by: by_, withinS: within, deadband };
}

function resolveBetween(leaf: Leaf, path: Path, watchable: Watchable, by: Resolving, isInverted: boolean): NumericCondition | null {
  const at = [...path, 'between'];
  const [low, high] = leaf.between ?? [0, 0];
  const from = number(low, watchable, [...at, 0], false, by);
  const to = number(high, watchable, [...at, 1], false, by);
  if (from === null || to === null) return null;
  if (from > to) {
    by.tell({ path: at, expected: 'the lower end first', hint: 'for "outside of", use not around it' });
    return null;
  }
  const [least, most] = watchable.range;
  if (from < least || to > most || (from === least && to === most)) {
    by.tell({ path: at, expected: `a part of what ${watchable.label} can be, ${rangeWords(watchable)}`, hint: '' });
    return null;
  }
  const room = isInverted ? (to - from) / 2 : Math.max(from - least, most - to);
  const deadband = deadbandOf(leaf, path, watchable, room, by);
  return deadband === null ? null : { watch: leaf.watch, test: 'between', from, to, deadband };
}

function resolveLimit(leaf: Leaf, test: 'above' | 'below', path: Path, watchable: Watchable, by: Resolving, isInverted: boolean): NumericCondition | null {
  const limit = number(leaf[test] ?? 0, watchable, [...path, test], false, by);
  if (limit === null) return null;
  const [least, most] = watchable.range;
  const isPossible = test === 'above' ? limit >= least && limit < most : limit > least && limit <= most;
  if (!isPossible) {
    const bounds = test === 'above' ? `from ${inUnit(least, '')} to under` : `over ${inUnit(least, '')} and up to`;
    by.tell({ path: [...path, test], expected: `${bounds} ${inUnit(most, watchable.unit)}, since ${watchable.label} can be no other`, hint: '' });
    return null;
  }
  const room = (test === 'above') !== isInverted ? limit - least : most - limit;
  const deadband = deadbandOf(leaf, path, watchable, room, by);
  return deadband === null ? null : { watch: leaf.watch, test, limit, deadband };
}
