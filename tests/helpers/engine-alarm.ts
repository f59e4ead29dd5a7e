import { lowPointTexts } from '../../engine/alarms/low-point.ts';
import type { Quantities } from '../../engine/alarms/quantities.ts';
import { type AlarmState, acknowledge, alarmViews, initialAlarms, shelve, stepAlarms, unshelve } from '../../engine/alarms/reduce.ts';
import type { EngineTime, Watched } from '../../engine/types.ts';
import { resolveRules } from '../../shared/alarm-rules.ts';
import type { Alarm, AlarmChange } from '../../shared/schema/alarm.ts';
import { AlarmEntry, type AlarmRule } from '../../shared/schema/alarm-rule.ts';
import { SIGNALS } from '../../shared/signals.ts';
import { NOON_MS, timeAt } from './engine-rig.ts';

/** A rig on which every signal that has a name of ours is mapped, each sent every 10 s, with two routes. */
export const FULL_CONTEXT = {
  signals: new Map([...SIGNALS].map(([name, kind]) => [name, { ...kind, everyS: 10 }])),
  routes: ['tablet', 'phones'],
};

/** Rules as a rig file would have them; fails on a mistake. */
export function rulesFrom(...entries: readonly object[]): readonly AlarmRule[] {
  const { rules, issues } = resolveRules(
    entries.map((entry) => AlarmEntry.parse(entry)),
    FULL_CONTEXT,
  );
  if (issues.length > 0) throw new Error(JSON.stringify(issues));
  return rules;
}

/** Rules of the person's own alone. */
export const ownRules = (...entries: readonly object[]): readonly AlarmRule[] => rulesFrom(...entries).filter(({ builtIn }) => !builtIn);

/** The rule `low-point` alone, adjusted. */
export const lowPointRules = (over: object = {}): readonly AlarmRule[] => rulesFrom({ id: 'low-point', ...over }).filter(({ id }) => id === 'low-point');

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

/** What rules see where these values are known and all else is not. `silentS`: since when a signal is silent, s; `counted`: names by quantity. */
export function seen(
  values: Readonly<Record<string, number | null>>,
  silentS: Readonly<Record<string, number>> = {},
  counted: Readonly<Record<string, readonly string[]>> = {},
): Quantities {
  return {
    value: (name) => values[name] ?? null,
    whyUnknown: (name) => `${name} is silent`,
    names: (name) => counted[name] ?? [],
    silentMs: (signal) => 1000 * (silentS[signal] ?? 0),
    words: (name) => (values[name] === null || values[name] === undefined ? 'not known' : String(values[name])),
  };
}

/** What rules see of the night alone. */
export const nightSeen = (watched: Watched): Quantities => ({
  ...seen({ 'night.belowFloorProbability': watched.belowFloorProbability }),
  whyUnknown: () => watched.unknownBecause,
  words: (name) => (name === 'night.outlookHeld' ? lowPointTexts(watched).returned : lowPointTexts(watched).standing),
});

/** Alarms on a bench: a clock, rules, and all changes so far. */
export interface RuleBench {
  state: AlarmState;
  time: EngineTime;
  rules: readonly AlarmRule[];
  readonly changes: AlarmChange[];
  /** Stands for `seconds`, evaluated every 10 s. */
  see(quantities: Quantities, seconds: number): void;
  alarm(id: string): Alarm;
  acknowledge(id: string, occurrence?: number): string;
  shelve(id: string, minutes: number): string;
  unshelve(id: string): string;
}

export function ruleBench(rules: readonly AlarmRule[]): RuleBench {
  const took = ({ state, changes, refused }: ReturnType<typeof acknowledge>): string => {
    bench.state = state;
    bench.changes.push(...changes);
    return refused;
  };
  const bench: RuleBench = {
    state: initialAlarms(),
    time: timeAt(NOON_MS, { monoMs: 0 }),
    rules,
    changes: [],
    see(quantities, seconds) {
      for (let s = 0; s < seconds; s += 10) {
        bench.time = { ...bench.time, wallMs: bench.time.wallMs + 10_000, monoMs: bench.time.monoMs + 10_000 };
        const { state, changes } = stepAlarms(bench.state, quantities, bench.rules, bench.time);
        bench.state = state;
        bench.changes.push(...changes);
      }
    },
    alarm(id) {
      const found = alarmViews(bench.state, bench.rules).find((alarm) => alarm.id === id);
      if (!found) throw new Error(`there is no rule ${id}`);
      return found;
    },
    acknowledge: (id, occurrence = bench.alarm(id).occurrence) => took(acknowledge(bench.state, id, occurrence, 'test', bench.time, bench.rules)),
    shelve: (id, minutes) => took(shelve(bench.state, id, 60_000 * minutes, 'test', bench.time, bench.rules)),
    unshelve: (id) => took(unshelve(bench.state, id, 'test', bench.time, bench.rules)),
  };
  return bench;
}

/** The alarm `low-point` on a bench. */
export interface AlarmBench extends Omit<RuleBench, 'see' | 'alarm' | 'acknowledge'> {
  /** Stands for `seconds`, evaluated every 10 s. */
  hold(belowFloorProbability: number | null, seconds: number): Alarm;
  acknowledge(occurrence?: number): string;
  alarm(): Alarm;
}

export function alarmBench(rules: readonly AlarmRule[] = lowPointRules()): AlarmBench {
  const bench = ruleBench(rules);
  const alarm = () => bench.alarm('low-point');
  return Object.assign(bench, {
    hold(belowFloorProbability: number | null, seconds: number): Alarm {
      bench.see(nightSeen(watchedOf(belowFloorProbability)), seconds);
      return alarm();
    },
    acknowledge: (
      (acknowledge) => (occurrence?: number) =>
        acknowledge('low-point', occurrence)
    )(bench.acknowledge),
    alarm: (
      (of) => () =>
        of('low-point')
    )(bench.alarm),
  });
}

export const over = (watch: string, above: number) => ({ watch, above, deadband: 0 });
export const CABIN = 'cabin.temperature';
export const FUSE = 'bank.chargeAllowed';
/** A rule of two levels; its cause is read from a signal of its own. */
export const HOT = {
  id: 'hot',
  levels: [
    { priority: 'medium', when: over(CABIN, 30) },
    { priority: 'high', when: over(CABIN, 40) },
  ],
  onDelay: 60,
  offDelay: 120,
};
export const CAUSE = { id: 'cause', when: over(FUSE, 0), priority: 'low', onDelay: 30, offDelay: 60 };
/** The cabin's temperature, and whether the cause is there. */
export const at = (cabinC: number | null, cause = 0): Quantities => seen({ [CABIN]: cabinC, [FUSE]: cause });
