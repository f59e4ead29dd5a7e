import type { Priority } from '../schema/alarm.ts';
import type { NumericCondition } from '../schema/alarm-rule.ts';
import type { RuleIssue } from './issue.ts';
import { inUnit } from './limit.ts';
import { type RuleContext, watchableOf } from './watchable.ts';

type Leaf = Extract<NumericCondition, { watch: string }>;
/** A value for what a condition looks at: a number, or whether a test that is no plain limit is true. */
type World = ReadonlyMap<string, number | boolean>;

/** So many combinations of values are tried at most; beyond that, each value alone. */
const MOST_WORLDS = 4096;

const isPlain = (leaf: Leaf): boolean => leaf.test === 'above' || leaf.test === 'below' || leaf.test === 'between';
const keyOf = (condition: NumericCondition): string => ('watch' in condition && isPlain(condition) ? condition.watch : JSON.stringify(condition));

/** Truth of a condition where only some of what it looks at is known (Kleene); null: not known. */
function truthIn(condition: NumericCondition, world: World): boolean | null {
  if ('all' in condition || 'any' in condition) {
    const parts = ('all' in condition ? condition.all : condition.any).map((part) => truthIn(part, world));
    const decides = 'any' in condition;
    return parts.includes(decides) ? decides : parts.includes(null) ? null : !decides;
  }
  if ('not' in condition) {
    const truth = truthIn(condition.not, world);
    return truth === null ? null : !truth;
  }
  const value = world.get(keyOf(condition));
  if (value === undefined) return null;
  if (typeof value === 'boolean' || !('watch' in condition)) return value === true;
  if (condition.test === 'above') return value > condition.limit;
  if (condition.test === 'below') return value < condition.limit;
  return condition.test === 'between' && value >= condition.from && value <= condition.to;
}

/** All leaves, those that look at alarms included. */
function leavesOf(condition: NumericCondition): readonly NumericCondition[] {
  if ('all' in condition) return condition.all.flatMap(leavesOf);
  if ('any' in condition) return condition.any.flatMap(leavesOf);
  return 'not' in condition ? leavesOf(condition.not) : [condition];
}

/** For everything that conditions look at, values of every kind that makes a difference: each limit, and one in each gap between. */
function choicesOf(conditions: readonly NumericCondition[], context: RuleContext): ReadonlyMap<string, readonly (number | boolean)[]> {
  const limits = new Map<string, number[]>();
  const choices = new Map<string, readonly (number | boolean)[]>();
  for (const leaf of conditions.flatMap(leavesOf)) {
    if (!('watch' in leaf) || !isPlain(leaf)) {
      choices.set(keyOf(leaf), [true, false]);
      continue;
    }
    const found = limits.get(leaf.watch) ?? [];
    limits.set(leaf.watch, found);
    if (leaf.test === 'between') found.push(leaf.from, leaf.to);
    else if (leaf.test === 'above' || leaf.test === 'below') found.push(leaf.limit);
  }
  for (const [name, found] of limits) {
    const watchable = watchableOf(name, context);
    const range = watchable === null || watchable === 'unsure' ? [] : watchable.range;
    const points = [...new Set([...found, ...range])].sort((a, b) => a - b);
    choices.set(
      name,
      points.flatMap((point, i) => (i === 0 ? [point] : [((points[i - 1] as number) + point) / 2, point])),
    );
  }
  return choices;
}

/** Worlds to try: every combination of choices where there are few, else each choice alone. */
function worldsOf(choices: ReadonlyMap<string, readonly (number | boolean)[]>): { worlds: readonly World[]; areAll: boolean } {
  let count = 1;
  for (const values of choices.values()) count *= values.length;
  if (count > MOST_WORLDS) return { worlds: [...choices].flatMap(([name, values]) => values.map((value) => new Map([[name, value]]))), areAll: false };
  let worlds: World[] = [new Map()];
  for (const [name, values] of choices) worlds = worlds.flatMap((world) => values.map((value) => new Map([...world, [name, value]])));
  return { worlds, areAll: true };
}

/** True when no combination of values can make a condition `truth`. Without all combinations: when one thing it looks at rules that out whatever it is. */
function isNever(truth: boolean, condition: NumericCondition, context: RuleContext): boolean {
  const choices = choicesOf([condition], context);
  const { worlds, areAll } = worldsOf(choices);
  if (areAll) return !worlds.some((world) => truthIn(condition, world) === truth);
  return [...choices].some(([name, values]) => values.every((value) => truthIn(condition, new Map([[name, value]])) === !truth));
}

/** Whether a rule looks at nothing but the silence of signals: it tells what is not heard, not what is wrong. */
export const isOfSilence = (levels: readonly { readonly when: NumericCondition }[]): boolean =>
  levels.every(({ when }) => leavesOf(when).every((leaf) => 'watch' in leaf && leaf.test === 'silent'));

function leafWords(leaf: NumericCondition, context: RuleContext): string {
  if (!('watch' in leaf)) return 'alarm' in leaf ? `the alarm ${leaf.alarm}` : '';
  const watchable = watchableOf(leaf.watch, context);
  const unit = watchable === null || watchable === 'unsure' ? '' : watchable.unit;
  if (leaf.test === 'above' || leaf.test === 'below') return `${leaf.watch} ${leaf.test} ${inUnit(leaf.limit, unit)}`;
  return leaf.test === 'between' ? `${leaf.watch} between ${inUnit(leaf.from, '')} and ${inUnit(leaf.to, unit)}` : `${leaf.watch} ${leaf.test}`;
}

interface Level {
  readonly priority: Priority;
  readonly when: NumericCondition;
}

const named = ({ priority }: Level): string => `${priority.charAt(0).toUpperCase()}${priority.slice(1)}`;

/** Which higher level takes over whenever this one is true, and how to set limits of one thing so that both count. */
function takenOver(level: Level, higher: readonly Level[], worlds: readonly World[]): string {
  const by = higher.find((other) => worlds.every((world) => truthIn(level.when, world) !== true || truthIn(other.when, world) === true));
  if (!by) return `one of the higher levels is true whenever ${named(level)} is`;
  const words = `${named(by)} is true whenever ${named(level)} is`;
  const [one, other] = [level.when, by.when];
  if (!('watch' in one && 'watch' in other && one.watch === other.watch && one.test === other.test)) return words;
  if (one.test !== 'above' && one.test !== 'below') return words;
  return `${words}; set the limit of ${named(level)} ${one.test === 'above' ? 'lower' : 'higher'} than that of ${named(by)}`;
}

/** Conditions that can never be true, or never false, and levels that never count since a higher one is true whenever they are. `paths`: where each level's condition stands. */
export function checkLogic(
  levels: readonly Level[],
  paths: readonly (readonly (string | number)[])[],
  context: RuleContext,
  tell: (issue: RuleIssue) => void,
): void {
  let isSound = true;
  for (const [i, { when }] of levels.entries()) {
    const words = leavesOf(when)
      .slice(0, 4)
      .map((leaf) => leafWords(leaf, context))
      .join(', ');
    const path = paths[i] ?? [];
    if (isNever(true, when, context)) {
      tell({ path, got: `a condition that can never be true (${words})`, expected: 'one that can', hint: 'the alarm would never be raised' });
    } else if (isNever(false, when, context)) {
      tell({ path, got: `a condition that is always true (${words})`, expected: 'one that can be false', hint: 'the alarm would never end' });
    } else continue;
    isSound = false;
  }
  for (const [i, level] of isSound ? levels.entries() : []) {
    const higher = levels.slice(i + 1);
    if (higher.length === 0) continue;
    const { worlds, areAll } = worldsOf(
      choicesOf(
        [level, ...higher].map(({ when }) => when),
        context,
      ),
    );
    const counts = !areAll || worlds.some((world) => truthIn(level.when, world) === true && higher.every(({ when }) => truthIn(when, world) !== true));
    if (!counts)
      tell({
        path: paths[i] ?? [],
        got: 'a level that never counts',
        expected: 'one that can be true while no higher one is',
        hint: takenOver(level, higher, worlds),
      });
  }
}
