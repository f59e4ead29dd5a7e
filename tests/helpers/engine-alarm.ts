import { type AlarmState, acknowledge, alarmViews, initialAlarms, stepAlarms } from '../../engine/alarms/reduce.ts';
import type { EngineTime, Watched } from '../../engine/types.ts';
import type { Alarm, AlarmChange } from '../../shared/schema/alarm.ts';
import { type AlarmRule, defaultAlarmRule } from '../../shared/schema/rig-file.ts';
import { NOON_MS, timeAt } from './engine-rig.ts';

export const ruleOf = (over: Partial<AlarmRule> = {}): AlarmRule => ({ ...defaultAlarmRule('low-point'), ...over });

/** What the alarm looks at, with a chance of falling under the floor; null: the shunt is silent. */
export const watchedOf = (belowFloorProbability: number | null): Watched => ({
  belowFloorProbability,
  text: {
    lowPointPct: belowFloorProbability === null ? null : 33.4,
    lowPointMs: belowFloorProbability === null ? null : Date.UTC(2025, 6, 11, 6, 35),
    floorPct: 30,
    belowFloorMs: belowFloorProbability === null ? null : Date.UTC(2025, 6, 11, 4, 10),
    isUnder: false,
    comingNightEndMs: null,
    timeZone: 'Europe/Lisbon',
  },
  unknownBecause: belowFloorProbability === null ? "the bank's shunt is silent" : '',
});

/** The alarm `low-point` on a bench: a clock, a rule, and all changes so far. */
export interface AlarmBench {
  state: AlarmState;
  time: EngineTime;
  rule: AlarmRule;
  readonly changes: AlarmChange[];
  /** Stands for `seconds`, evaluated every 10 s. */
  hold(belowFloorProbability: number | null, seconds: number): Alarm;
  acknowledge(occurrence?: number): string;
  alarm(): Alarm;
}

export function alarmBench(rule: AlarmRule = ruleOf()): AlarmBench {
  const bench: AlarmBench = {
    state: initialAlarms(),
    time: timeAt(NOON_MS, { monoMs: 0 }),
    rule,
    changes: [],
    hold(belowFloorProbability, seconds) {
      for (let s = 0; s < seconds; s += 10) {
        bench.time = { ...bench.time, wallMs: bench.time.wallMs + 10_000, monoMs: bench.time.monoMs + 10_000 };
        const { state, changes } = stepAlarms(bench.state, watchedOf(belowFloorProbability), [bench.rule], bench.time);
        bench.state = state;
        bench.changes.push(...changes);
      }
      return bench.alarm();
    },
    acknowledge(occurrence = bench.alarm().occurrence) {
      const { state, changes, refused } = acknowledge(bench.state, 'low-point', occurrence, bench.time);
      bench.state = state;
      bench.changes.push(...changes);
      return refused;
    },
    alarm: () => alarmViews(bench.state)[0] as Alarm,
  };
  return bench;
}
