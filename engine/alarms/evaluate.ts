import type { Alarm, Priority } from '../../shared/schema/alarm.ts';
import type { AlarmRule, NumericCondition } from '../../shared/schema/alarm-rule.ts';
import { fallOf, type History, riseOf } from './history.ts';
import { rankOf } from './rank.ts';

/** Truth of three values (Kleene): all is the least, any the most, not its counterpart. */
export const FALSE = 0;
export const UNKNOWN = 0.5;
export const TRUE = 1;
export type Truth = typeof FALSE | typeof UNKNOWN | typeof TRUE;

/** What conditions are asked against in one step. */
export interface Sight {
  value(name: string): number | null;
  silentMs(signal: string): number;
  /** The condition of an alarm as it stood after the last step. */
  conditionOf(alarmId: string): Alarm['condition'];
  historyOf(name: string, withinS: number): History;
}

/** A condition made ready. `stands`: the alarm stands at this level, so that limits give way by their deadbands. */
export type Test = (sight: Sight, stands: boolean) => Truth;

const truthOf = (isTrue: boolean): Truth => (isTrue ? TRUE : FALSE);

/** The way in which a deadband moves a limit: a condition under `not` goes on standing by its limit moving the other way. */
function compiled(condition: NumericCondition, way: 1 | -1): Test {
  if ('all' in condition) {
    const parts = condition.all.map((part) => compiled(part, way));
    return (sight, stands) => {
      let least: Truth = TRUE;
      for (const part of parts) {
        const truth = part(sight, stands);
        if (truth === FALSE) return FALSE;
        if (truth < least) least = truth;
      }
      return least;
    };
  }
  if ('any' in condition) {
    const parts = condition.any.map((part) => compiled(part, way));
    return (sight, stands) => {
      let most: Truth = FALSE;
      for (const part of parts) {
        const truth = part(sight, stands);
        if (truth === TRUE) return TRUE;
        if (truth > most) most = truth;
      }
      return most;
    };
  }
  if ('not' in condition) {
    const part = compiled(condition.not, way === 1 ? -1 : 1);
    return (sight, stands) => (1 - part(sight, stands)) as Truth;
  }
  if ('alarm' in condition) {
    const { alarm } = condition;
    return (sight) => {
      const stood = sight.conditionOf(alarm);
      return stood === 'unknown' ? UNKNOWN : truthOf(stood);
    };
  }
  return leaf(condition, way);
}

function leaf(condition: Extract<NumericCondition, { watch: string }>, way: 1 | -1): Test {
  const { watch } = condition;
  if (condition.test === 'silent') {
    const forMs = 1000 * condition.forS;
    return (sight) => truthOf(sight.silentMs(watch) >= forMs);
  }
  const band = way * condition.deadband;
  const holds = ((): ((value: number, deadband: number, sight: Sight) => boolean) => {
    switch (condition.test) {
      case 'above':
        return (value, deadband) => value > condition.limit - deadband;
      case 'below':
        return (value, deadband) => value < condition.limit + deadband;
      case 'between':
        return (value, deadband) => value >= condition.from - deadband && value <= condition.to + deadband;
      case 'rising':
        return (value, deadband, sight) => riseOf(sight.historyOf(watch, condition.withinS), value) >= condition.by - deadband;
      case 'falling':
        return (value, deadband, sight) => fallOf(sight.historyOf(watch, condition.withinS), value) >= condition.by - deadband;
    }
  })();
  return (sight, stands) => {
    const value = sight.value(watch);
    return value === null ? UNKNOWN : truthOf(holds(value, stands ? band : 0, sight));
  };
}

/** Makes a condition ready to be asked in every step. */
export const compileCondition = (condition: NumericCondition): Test => compiled(condition, 1);

/** The levels of a rule made ready, the highest first. */
export interface Level {
  readonly priority: Priority;
  readonly rank: number;
  readonly test: Test;
}

export const compileLevels = (rule: Pick<AlarmRule, 'levels'>): readonly Level[] =>
  rule.levels.map(({ priority, when }) => ({ priority, rank: rankOf(priority), test: compileCondition(when) })).reverse();

/**
 * The highest level whose condition is true; null when none is; `unknown` when what is missing may be louder than all that is known.
 * `standsRank`: rank of the level that stands, -1 for none; deadbands go by it. `loudRank`: of what sounds, be it known or not; a level up to
 * it that cannot be told any more is not put aside for a lesser one that is true.
 */
export function findLevel(levels: readonly Level[], sight: Sight, standsRank: number, loudRank: number): Priority | null | 'unknown' {
  let isUnknown = false;
  for (const { priority, rank, test } of levels) {
    const truth = test(sight, standsRank >= rank);
    if (truth === TRUE) return priority;
    if (truth === FALSE) continue;
    if (loudRank >= rank) return 'unknown';
    isUnknown = true;
  }
  return isUnknown ? 'unknown' : null;
}
