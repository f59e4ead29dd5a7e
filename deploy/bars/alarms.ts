import { type AlarmState, initialAlarms, stepAlarms } from '../../engine/alarms/reduce.ts';
import { type Random, seededRandom } from '../../engine/numeric/random.ts';
import { resolveRules } from '../../shared/alarm-rules.ts';
import { AlarmEntry, type AlarmRule } from '../../shared/schema/alarm-rule.ts';
import { type AlarmEvent, IDS, playAlarms, RULE_SETS } from './alarm-play.ts';
import type { Bar } from './bar.ts';

const SEQUENCES = 100_000;
const MOST_EVENTS = 16;
const MOST_STEPS = 10;

const SIGNALS = 50;
const RULES = 1000;
/** Ticks that are measured, after some to warm up. */
const TICKS = 500;
const WARM_UP = 200;

export const alarmBars: readonly Bar[] = [
  {
    name: 'alarm-reducer',
    what: 'random orders of values, gaps, commands, restarts, clock jumps and edits: no alarm lost, doubled, stuck or untold',
    async measure() {
      const random = seededRandom(1);
      let broken = 0;
      for (let i = 0; i < SEQUENCES; i++) {
        const events = Array.from({ length: 1 + Math.floor(random.uniform() * MOST_EVENTS) }, () => randomEvent(random));
        if (playAlarms(events) !== null) broken += 1;
      }
      return [{ name: `random event sequences of ${SEQUENCES} with a broken invariant`, figure: broken, unit: '', bar: 0, sense: 'most' }];
    },
  },
  {
    name: 'rules',
    what: `${RULES} alarm rules on ${SIGNALS} signals, evaluated in every tick`,
    async measure() {
      const tickMs = ruleTickMs();
      const bareMs = bareTickMs();
      return [
        { name: `a tick of ${RULES} rules on ${SIGNALS} signals`, figure: tickMs, unit: 'ms', bar: 5, sense: 'most' },
        { name: 'the same to a bare loop of that size', figure: tickMs / bareMs, unit: '', bar: 6, sense: 'most' },
      ];
    },
  },
];

const pick = <T>(random: Random, from: readonly T[]): T => from[Math.floor(random.uniform() * from.length)] as T;
const WARM = [5, 20, 28, 29, 31, 36, 41, 50, null];
const NAMES = ['cabin', 'outside', 'bank'];

function randomEvent(random: Random): AlarmEvent {
  const kind = pick(random, ['hold', 'hold', 'hold', 'hold', 'acknowledge', 'acknowledge', 'shelve', 'unshelve', 'restart', 'jump', 'rules'] as const);
  const id = pick(random, IDS);
  switch (kind) {
    case 'hold':
      return {
        kind,
        warm: pick(random, WARM),
        cause: pick(random, [0, 0, 0, 1, 1, null]),
        silent: NAMES.filter(() => random.uniform() < 0.3),
        steps: 1 + Math.floor(random.uniform() * MOST_STEPS),
      };
    case 'acknowledge':
      return { kind, id, isOld: random.uniform() < 0.3 };
    case 'shelve':
      return { kind, id, minutes: pick(random, [1, 2, 5, 2000]) };
    case 'unshelve':
      return { kind, id };
    case 'restart':
      return { kind, clockSure: random.uniform() < 0.5, jumpS: pick(random, [5, 3600, -3600]) };
    case 'jump':
      return { kind, hours: pick(random, [7, -7]) };
    case 'rules':
      return { kind, set: Math.floor(random.uniform() * RULE_SETS.length) };
  }
}

const signalOf = (i: number): string => `tank.level${i % SIGNALS}`;

/** Rules of every kind: plain limits, joined ones, rates, silence; some stand and some do not. */
function manyRules(): readonly AlarmRule[] {
  const entries = Array.from({ length: RULES }, (_, i) => {
    const watch = signalOf(i);
    const plain = { watch, above: 20 + (i % 60), deadband: 2 };
    const kinds = [
      plain,
      { all: [plain, { not: { watch: signalOf(i + 7), below: 30 } }] },
      { any: [plain, { watch: signalOf(i + 3), between: [5, 10] }] },
      { watch, silent: 120 },
      i % 40 === 4 ? { watch, rising: 10, within: 600 } : { all: [plain, { watch: signalOf(i + 1), above: 50 }] },
    ];
    return AlarmEntry.parse({ id: `rule-${i}`, priority: 'low', when: kinds[i % kinds.length], message: `level {${watch}}` });
  });
  const facts = { quantity: 'humidity', label: 'Level', range: [0, 100], everyS: 10 } as const;
  const signals = new Map(Array.from({ length: SIGNALS }, (_, i) => [signalOf(i), facts]));
  const { rules, issues } = resolveRules(entries, { signals, routes: [] });
  if (issues.length > 0) throw new Error(JSON.stringify(issues[0]));
  return rules.filter(({ builtIn }) => !builtIn);
}

const levelAt = (signal: number, tick: number): number => 50 + 45 * Math.sin(signal + tick / 20);

function ruleTickMs(): number {
  const rules = manyRules();
  let state: AlarmState = initialAlarms();
  return tickMsOf((tick) => {
    const values = new Map(Array.from({ length: SIGNALS }, (_, i) => [signalOf(i), levelAt(i, tick)]));
    const quantities = {
      value: (name: string) => values.get(name) ?? null,
      whyUnknown: (name: string) => `${name} is silent`,
      names: () => [],
      silentMs: () => 0,
      words: (name: string) => `${Math.round(values.get(name) ?? 0)} %`,
    };
    ({ state } = stepAlarms(state, quantities, rules, { wallMs: 10_000 * tick, monoMs: 10_000 * tick, bootId: 'bar', clockSure: true }));
  });
}

/** The least that any evaluation of that size does: look each signal up, compare it with a limit, and keep what stands with its words. */
function bareTickMs(): number {
  const names = Array.from({ length: RULES }, (_, i) => signalOf(i));
  let standing: Readonly<Record<string, string>> = {};
  return tickMsOf((tick) => {
    const values = new Map(Array.from({ length: SIGNALS }, (_, i) => [signalOf(i), levelAt(i, tick)]));
    const next: Record<string, string> = { ...standing };
    for (const [i, name] of names.entries()) {
      const value = values.get(name) ?? 0;
      if (value > 20 + (i % 60)) next[`rule-${i}`] = `level ${Math.round(value)} %`;
      else delete next[`rule-${i}`];
    }
    standing = next;
  });
}

/** Time of the processor for one tick, ms: what else the machine does meanwhile does not count. */
function tickMsOf(tickOnce: (tick: number) => void): number {
  for (let tick = 0; tick < WARM_UP; tick++) tickOnce(tick);
  const started = process.cpuUsage();
  for (let tick = WARM_UP; tick < WARM_UP + TICKS; tick++) tickOnce(tick);
  const { user, system } = process.cpuUsage(started);
  return (user + system) / 1000 / TICKS;
}
