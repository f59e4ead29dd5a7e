import { BUILT_IN, type BuiltIn } from './built-in-alarms.ts';
import { circleIssues, namedAlarms } from './rules/circles.ts';
import { resolveCondition } from './rules/condition.ts';
import { entryIssues, watchedIn } from './rules/entry.ts';
import type { RuleIssue } from './rules/issue.ts';
import { checkLogic, isOfSilence } from './rules/logic.ts';
import { type RuleContext, watchableOf } from './rules/watchable.ts';
import type { Priority } from './schema/alarm.ts';
import type { AlarmEntry, AlarmRule, Condition, NumericCondition } from './schema/alarm-rule.ts';
import { SIGNALS } from './signals.ts';
import { listText } from './value-text.ts';

export type { RuleIssue } from './rules/issue.ts';
export type { RuleContext, SignalFacts } from './rules/watchable.ts';

/** Delays of a person's own rule that names none, s. */
const ON_DELAY_S = 60;
const OFF_DELAY_S = 300;

/** Causes of a person's own rule that looks at silence alone and names none: with the broker, all is silent. */
const SILENCE_BECAUSE: readonly string[] = ['broker-lost'];

type Path = readonly (string | number)[];
interface LevelSource {
  readonly priority: Priority;
  readonly when: Condition;
  /** Where the condition stands in the file; null for a built-in one. */
  readonly path: Path | null;
}

/** Sentences of a message that names none: what a rule watches, with its values. */
function valuesOf(names: readonly string[], context: RuleContext): string {
  const parts = names.flatMap((name) => {
    const watchable = watchableOf(name, context);
    return watchable === null || watchable === 'unsure' ? [] : `${watchable.label} {${name}}`;
  });
  return parts.join(', ');
}

const titleOf = (id: string): string => id.charAt(0).toUpperCase() + id.slice(1).replaceAll('-', ' ');

/** The levels of an entry, over those of the built-in alarm that it adjusts. */
function levelsOf(entry: AlarmEntry, at: Path, base: AlarmEntry | null): readonly LevelSource[] {
  const { levels, when, priority, notice, urgent } = entry;
  if (levels) return levels.map((level, i) => ({ ...level, path: levels === base?.levels ? null : [...at, 'levels', i, 'when'] }));
  const built: readonly LevelSource[] = base
    ? levelsOf({ ...base, notice: undefined, urgent: undefined }, [], null).map((level) => ({ ...level, path: null }))
    : [];
  if (when) return [{ when, priority: priority ?? built[0]?.priority ?? 'medium', path: [...at, 'when'] }];
  if (priority && built.length === 1) return built.map((level) => ({ ...level, priority }));
  if (entry.id !== 'low-point') return built;
  const limits = [notice, urgent];
  return built.map((level, i) => {
    const limit = limits[i];
    return limit === undefined || !('watch' in level.when) ? level : { ...level, when: { ...level.when, above: limit } };
  });
}

/** One entry over its built-in alarm as a rule; null where it has a mistake, which is told. */
function resolveEntry(entry: AlarmEntry, at: Path, base: AlarmEntry | null, context: RuleContext, tell: (issue: RuleIssue) => void): AlarmRule | null {
  const sources = levelsOf(entry, at, base);
  if (sources.length === 0) return null;
  const missing = new Set<string>();
  const given = entry.deadband ?? base?.deadband;
  const deadband = given === undefined ? null : { given, path: entry.deadband === undefined ? null : [...at, 'deadband'] };
  const levels = sources.map(({ priority, when, path }) => ({
    priority,
    when: resolveCondition(when, path ?? at, { context, deadband, builtIn: path === null || entry === base, tell, missing }),
  }));
  if (levels.some(({ when }) => when === null)) return null;
  const whole = levels as readonly { readonly priority: Priority; readonly when: NumericCondition }[];
  const notWatched = missing.size === 0 ? '' : `it needs ${listText([...missing].map(called))}, which ${missing.size === 1 ? 'is' : 'are'} not mapped`;
  if (notWatched === '')
    checkLogic(
      whole,
      sources.map(({ path }, i) => path ?? limitPath(entry, at, i)),
      context,
      tell,
    );
  const values = valuesOf([...new Set(sources.flatMap(({ when }) => watchedIn(when)))], context);
  const title = entry.title ?? base?.title ?? titleOf(entry.id);
  return {
    id: entry.id,
    builtIn: base !== null,
    adjusted: base !== null,
    title,
    levels: whole,
    onDelayS: entry.onDelay ?? base?.onDelay ?? ON_DELAY_S,
    offDelayS: entry.offDelay ?? base?.offDelay ?? OFF_DELAY_S,
    message: entry.message ?? base?.message ?? `${title}${values === '' ? '' : `: ${values}`}.`,
    messageOver: entry.messageOver ?? base?.messageOver ?? `Over: ${title}${values === '' ? '' : `; ${values}`}.`,
    messageUnknown: entry.messageUnknown ?? base?.messageUnknown ?? `Whether “${title}” holds cannot be told: {why}.`,
    routes: entry.routes ?? base?.routes ?? null,
    because: entry.because ?? base?.because ?? (isOfSilence(whole) ? SILENCE_BECAUSE : []),
    unknown: entry.unknown ?? base?.unknown ?? 'raise',
    outOfService: entry.outOfService ?? base?.outOfService ?? false,
    notWatched,
  };
}

/** What a signal that is not mapped is called, “Lowest cell”; by its name where no other is known. */
const called = (signal: string): string => `“${SIGNALS.get(signal)?.label ?? signal}”`;

const limitPath = ({ notice, urgent }: AlarmEntry, at: Path, level: number): Path => {
  const key = level === 0 && notice !== undefined ? 'notice' : urgent !== undefined ? 'urgent' : notice !== undefined ? 'notice' : null;
  return key === null ? at : [...at, key];
};

/**
 * The rules of a rig: the built-in alarms as entries of the rig file adjust them, then its own, and every mistake in the entries. An entry
 * with a mistake gives no rule; null stands for one whose shape is wrong already. A built-in alarm that has nothing to look at on this rig
 * is no mistake: `notWatched` says why.
 */
export function resolveRules(entries: readonly (AlarmEntry | null)[], context: RuleContext): { rules: readonly AlarmRule[]; issues: readonly RuleIssue[] } {
  const issues: RuleIssue[] = [];
  const tell = (issue: RuleIssue): void => void issues.push(issue);
  const builtIn = new Map<string, BuiltIn>(BUILT_IN.map((entry) => [entry.id, entry]));
  const placeOf = new Map<string, number>();
  for (const [i, entry] of entries.entries()) {
    if (!entry) continue;
    if (placeOf.has(entry.id))
      tell({ path: [i, 'id'], expected: 'each id once', hint: `it stands in entry ${(placeOf.get(entry.id) ?? 0) + 1} already; put both into one` });
    else placeOf.set(entry.id, i);
  }
  const ids = [...builtIn.keys(), ...placeOf.keys(), ...(context.otherIds ?? [])];
  for (const [i, entry] of entries.entries()) if (entry) entryIssues(entry, i, builtIn.get(entry.id) ?? null, { ids, context, tell });
  const resolve = (id: string): AlarmRule | null => {
    const place = placeOf.get(id);
    const base = builtIn.get(id) ?? null;
    if (place !== undefined) return resolveEntry(entries[place] as AlarmEntry, [place], base, context, tell);
    const rule = resolveEntry({ id }, [], base, context, () => {});
    return rule && { ...rule, adjusted: false };
  };
  const own = [...placeOf.keys()].filter((id) => !builtIn.has(id));
  const rules = [...builtIn.keys(), ...own].map(resolve).filter((rule) => rule !== null);
  issues.push(...circleIssues(rules, placeOf));
  return { rules: withBlindNames(rules), issues };
}

/** Built-in alarms that look at an alarm which has nothing to look at have nothing to look at either. */
function withBlindNames(rules: readonly AlarmRule[]): readonly AlarmRule[] {
  const blind = new Map(rules.filter(({ notWatched }) => notWatched !== '').map((rule) => [rule.id, rule]));
  return rules.map((rule) => {
    const seen = rule.levels.flatMap(({ when }) => namedAlarms(when)).find((id) => blind.has(id));
    return seen === undefined || rule.notWatched !== '' || !rule.builtIn ? rule : { ...rule, notWatched: `it needs the alarm ${seen}, which is not watched` };
  });
}
