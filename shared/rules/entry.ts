import { nearest } from '../nearest.ts';
import { CATALOGUE } from '../quantities.ts';
import { PRIORITIES } from '../schema/alarm.ts';
import type { AlarmEntry, Condition } from '../schema/alarm-rule.ts';
import type { RuleIssue } from './issue.ts';
import { type RuleContext, watchableNames, watchableOf } from './watchable.ts';

export const didYouMean = (word: string, among: Iterable<string>): string => {
  const near = nearest(word, among);
  return near === null ? '' : `did you mean "${near}"?`;
};

interface Checking {
  /** Ids that there are. */
  readonly ids: readonly string[];
  readonly context: RuleContext;
  readonly tell: (issue: RuleIssue) => void;
}

/** Mistakes of an entry beside its conditions' numbers: what goes together, names of alarms, routes and values. `base`: the built-in alarm that it adjusts. */
export function entryIssues(entry: AlarmEntry, index: number, base: AlarmEntry | null, checking: Checking): void {
  const at = [index];
  const { tell } = checking;
  shapeIssues(entry, at, base, tell);
  for (const [key, conditions] of conditionsOf(entry)) alarmNames(conditions, [...at, ...key], checking);
  const others = checking.ids.filter((id) => id !== entry.id);
  entry.because?.forEach((id, i) => {
    if (!others.includes(id)) tell({ path: [...at, 'because', i], expected: 'the id of another alarm', hint: didYouMean(id, others) });
  });
  entry.routes?.forEach((name, i) => {
    if (checking.context.routes.includes(name)) return;
    tell({ path: [...at, 'routes', i], expected: `one of the routes: ${checking.context.routes.join(', ')}`, hint: didYouMean(name, checking.context.routes) });
  });
  messageIssues(entry, at, checking);
}

function shapeIssues(entry: AlarmEntry, at: readonly number[], base: AlarmEntry | null, tell: Checking['tell']): void {
  const { when, priority, levels, notice, urgent } = entry;
  const levelled = (base?.levels?.length ?? 0) > 1;
  if (levels && when) tell({ path: [...at, 'when'], expected: 'either when or levels', hint: '' });
  if (levels && priority) tell({ path: [...at, 'priority'], expected: 'nothing beside levels, since each level has its own', hint: '' });
  if (!base && !levels && !when)
    tell({ path: at, got: 'no condition', expected: 'when and priority, or levels', hint: 'or the id of a built-in alarm to adjust' });
  if (when && !priority && (!base || levelled))
    tell({ path: [...at, 'priority'], expected: `one of ${PRIORITIES.join(', ')}, since when stands beside it`, hint: '' });
  if (priority && !when && !levels && (!base || levelled)) {
    tell({ path: [...at, 'priority'], expected: 'when beside it', hint: base ? `${entry.id} has several levels; give levels to change their priorities` : '' });
  }
  levels?.forEach(({ priority: level }, i) => {
    const before = levels[i - 1];
    if (!before || PRIORITIES.indexOf(level) > PRIORITIES.indexOf(before.priority)) return;
    tell({ path: [...at, 'levels', i, 'priority'], expected: `a higher priority than ${before.priority}, since levels rise`, hint: '' });
  });
  const watched = base && !levels && !when ? new Set((base.levels ?? []).flatMap((level) => watchedIn(level.when))) : null;
  if (entry.deadband !== undefined && watched && watched.size > 1) {
    tell({
      path: [...at, 'deadband'],
      expected: `nothing here, since ${entry.id} watches ${[...watched].join(', ')}`,
      hint: 'give levels with deadbands of their own',
    });
  }
  for (const key of ['notice', 'urgent'] as const) {
    if (entry[key] === undefined) continue;
    if (entry.id !== 'low-point') tell({ path: [...at, key], expected: 'nothing here: it is for low-point only', hint: '' });
    else if (levels || when) tell({ path: [...at, key], expected: 'either this or conditions of your own', hint: '' });
  }
  // When both are there, the schema compares them.
  const limits = base?.levels?.map(({ when: built }) => ('watch' in built ? built.above : undefined)) ?? [];
  if (notice !== undefined && urgent === undefined && typeof limits[1] === 'number' && notice >= limits[1]) {
    tell({ path: [...at, 'notice'], expected: `less than urgent, which is ${limits[1]}`, hint: 'or set urgent too' });
  }
  if (urgent !== undefined && notice === undefined && typeof limits[0] === 'number' && urgent <= limits[0]) {
    tell({ path: [...at, 'urgent'], expected: `more than notice, which is ${limits[0]}`, hint: 'or set notice too' });
  }
}

/** All whose value a condition reads. */
export const watchedIn = (condition: Condition): readonly string[] => {
  if ('watch' in condition) return condition.silent === undefined ? [condition.watch] : [];
  if ('all' in condition) return condition.all.flatMap(watchedIn);
  if ('any' in condition) return condition.any.flatMap(watchedIn);
  return 'not' in condition ? watchedIn(condition.not) : [];
};

const conditionsOf = ({ when, levels }: AlarmEntry): readonly (readonly [readonly (string | number)[], Condition])[] => [
  ...(when ? [[['when'], when] as const] : []),
  ...(levels ?? []).map((level, i) => [['levels', i, 'when'], level.when] as const),
];

function alarmNames(given: Condition, path: readonly (string | number)[], checking: Checking): void {
  if ('alarm' in given) {
    if (checking.ids.includes(given.alarm)) return;
    checking.tell({ path: [...path, 'alarm'], expected: 'the id of an alarm', hint: didYouMean(given.alarm, checking.ids) });
  } else if ('all' in given) given.all.forEach((part, i) => void alarmNames(part, [...path, 'all', i], checking));
  else if ('any' in given) given.any.forEach((part, i) => void alarmNames(part, [...path, 'any', i], checking));
  else if ('not' in given) alarmNames(given.not, [...path, 'not'], checking);
}

/** Signals that tell where the rig stands. */
const POSITION: ReadonlySet<string> = new Set(['place.lat', 'place.lon']);
const MESSAGES = ['message', 'messageOver', 'messageUnknown'] as const;

function messageIssues(entry: AlarmEntry, at: readonly number[], { context, tell }: Checking): void {
  for (const key of MESSAGES) {
    const text = entry[key];
    if (text === undefined) continue;
    for (const [, raw = ''] of text.matchAll(/\{([^{}]*)\}/g)) {
      const name = raw.trim();
      if (POSITION.has(name)) {
        tell({ path: [...at, key], got: `the value {${name}}`, expected: 'no position: what is sent by the routes passes through other hands', hint: '' });
        continue;
      }
      if (CATALOGUE.has(name) || watchableOf(name, context) !== null || (name === 'why' && key === 'messageUnknown')) continue;
      const hint = name === 'why' ? 'why is known in messageUnknown only' : didYouMean(name, watchableNames(context));
      tell({ path: [...at, key], got: `the value {${name}}`, expected: 'signals and quantities in braces', hint });
    }
  }
}
