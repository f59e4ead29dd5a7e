import { resolveRules } from '../../shared/alarm-rules.ts';
import { OF_SIGHT } from '../../shared/built-in-alarms.ts';
import { CATALOGUE, type RigPart } from '../../shared/quantities.ts';
import { isOfSilence } from '../../shared/rules/logic.ts';
import { withoutParts } from '../../shared/rules/parts.ts';
import type { Priority } from '../../shared/schema/alarm.ts';
import type { AlarmRule, NumericCondition } from '../../shared/schema/alarm-rule.ts';
import { type RigFile, ruleContext } from '../../shared/schema/rig-file.ts';
import { chemistryOf } from '../bank/chemistry.ts';
import { compileLevels, type Level } from './evaluate.ts';
import type { Delays } from './lifecycle.ts';
import { signalsOf } from './sensors.ts';
import { type Messages, messagesOf } from './text.ts';

const resolved = new WeakMap<object, ReturnType<typeof resolveRules>>();

type RulesOfFile = Pick<RigFile, 'alarms' | 'signals' | 'routes'> & PartsOfFile;

/** The rules of a rig file that has been checked: the built-in ones as it adjusts them, then its own. The same file gives the same list. */
export const rulesOf = (file: RulesOfFile): readonly AlarmRule[] => checkedRules(file).rules;

/** The same of one that may have mistakes, which are told. */
export function checkedRules(file: RulesOfFile): ReturnType<typeof resolveRules> {
  const known = resolved.get(file);
  if (known) return known;
  const { rules, issues } = resolveRules(file.alarms, ruleContext(file.signals, file.routes));
  const checked = { rules: withoutParts(rules, (part) => hasPart(file, part)), issues };
  resolved.set(file, checked);
  return checked;
}

type PartsOfFile = Pick<RigFile, 'bank' | 'panels' | 'inverter' | 'minisplit'>;

/** Whether a rig file names a part that quantities are worked out from. */
export function hasPart(file: PartsOfFile & Pick<RigFile, 'signals'>, part: RigPart): boolean {
  switch (part) {
    case 'minisplit':
      return file.minisplit !== undefined;
    case 'setpoint':
      return file.minisplit?.setpoint !== undefined || file.signals.specs.has('minisplit.setpoint');
    case 'panels':
      return file.panels.length > 0;
    case 'cutoffVolts':
      return file.inverter?.cutoffVolts !== undefined;
    case 'coldLimit':
      return chemistryOf(file.bank).blockedBelowC !== null;
  }
}

/** A rule made ready for steps. */
export interface ReadyRule {
  readonly rule: AlarmRule;
  /** The highest first. */
  readonly levels: readonly Level[];
  readonly lowest: Priority;
  readonly highest: Priority;
  /** Why it is not looked at: taken out of service, or nothing to look at on this rig; null when it is. */
  readonly laidOff: 'out-of-service' | 'not-watched' | null;
  /** It tells only that something cannot be seen or reached. */
  readonly ofSight: boolean;
  /** Places of its causes in the list. */
  readonly causes: readonly number[];
  /** Signals and quantities whose values it reads. */
  readonly reads: readonly string[];
  /** Signals by whose silence it does not know. */
  readonly dependsOn: readonly string[];
  /** It tells of signals by name. */
  readonly namesSignals: boolean;
  /** Those that count things with names. */
  readonly counted: readonly string[];
  readonly messages: Messages;
  readonly delays: Delays;
  /** Tells one condition from another, limits aside. */
  readonly about: number;
}

export interface ReadyRules {
  readonly list: readonly ReadyRule[];
  readonly indexOf: ReadonlyMap<string, number>;
  /** Places in the list, effects before their causes. */
  readonly order: readonly number[];
  /** What must be remembered for conditions that rise or fall. */
  readonly histories: readonly { readonly key: string; readonly name: string; readonly withinMs: number }[];
}

export const historyKey = (name: string, withinS: number): string => `${name} ${withinS}`;

/** All leaves of a condition that look at something. */
export function leavesOf(condition: NumericCondition): readonly Extract<NumericCondition, { watch: string }>[] {
  if ('watch' in condition) return [condition];
  if ('all' in condition) return condition.all.flatMap(leavesOf);
  if ('any' in condition) return condition.any.flatMap(leavesOf);
  return 'not' in condition ? leavesOf(condition.not) : [];
}

/** A condition without its numbers. */
function shapeOf(condition: NumericCondition): unknown {
  if ('watch' in condition) return [condition.watch, condition.test];
  if ('all' in condition) return { all: condition.all.map(shapeOf) };
  if ('any' in condition) return { any: condition.any.map(shapeOf) };
  return 'not' in condition ? { not: shapeOf(condition.not) } : condition;
}

/** @source Fowler, Noll, Vo: FNV-1a, 32 bit (RFC 9923) */
function hashOf(text: string): number {
  let hash = 0x811c9dc5;
  for (let i = 0; i < text.length; i++) hash = Math.imul(hash ^ text.charCodeAt(i), 0x01000193);
  return hash >>> 0;
}

const ready = new WeakMap<readonly AlarmRule[], ReadyRules>();

/** Makes rules ready, once a list. */
export function readyRules(rules: readonly AlarmRule[]): ReadyRules {
  const known = ready.get(rules);
  if (known) return known;
  const indexOf = new Map(rules.map(({ id }, index) => [id, index]));
  const list = rules.map((rule): ReadyRule => {
    const leaves = rule.levels.flatMap(({ when }) => leavesOf(when));
    const reads = [...new Set(leaves.flatMap(({ test, watch }) => (test === 'silent' ? [] : watch)))];
    return {
      rule,
      levels: compileLevels(rule),
      lowest: rule.levels[0]?.priority ?? 'low',
      highest: rule.levels.at(-1)?.priority ?? 'low',
      laidOff: rule.outOfService ? 'out-of-service' : rule.notWatched === '' ? null : 'not-watched',
      ofSight: OF_SIGHT.has(rule.id) || isOfSilence(rule.levels),
      causes: rule.because.flatMap((id) => indexOf.get(id) ?? []),
      reads,
      dependsOn: reads.flatMap(signalsOf),
      namesSignals: reads.some((name) => name.startsWith('sensors.')),
      counted: reads.filter((name) => CATALOGUE.get(name)?.counted),
      messages: messagesOf(rule),
      delays: { onMs: 1000 * rule.onDelayS, offMs: 1000 * rule.offDelayS },
      about: hashOf(JSON.stringify(rule.levels.map(({ when }) => shapeOf(when)))),
    };
  });
  const made = { list, indexOf, order: effectsFirst(list), histories: historiesOf(list) };
  ready.set(rules, made);
  return made;
}

function effectsFirst(list: readonly ReadyRule[]): readonly number[] {
  const causesFirst: number[] = [];
  const seen = new Set<number>();
  const visit = (index: number): void => {
    if (seen.has(index)) return;
    seen.add(index);
    list[index]?.causes.forEach(visit);
    causesFirst.push(index);
  };
  for (let index = 0; index < list.length; index++) visit(index);
  return causesFirst.reverse();
}

function historiesOf(list: readonly ReadyRule[]): ReadyRules['histories'] {
  const found = new Map<string, ReadyRules['histories'][number]>();
  for (const { rule, laidOff } of list) {
    if (laidOff) continue;
    for (const leaf of rule.levels.flatMap(({ when }) => leavesOf(when))) {
      if (leaf.test !== 'rising' && leaf.test !== 'falling') continue;
      const key = historyKey(leaf.watch, leaf.withinS);
      found.set(key, { key, name: leaf.watch, withinMs: 1000 * leaf.withinS });
    }
  }
  return [...found.values()];
}
