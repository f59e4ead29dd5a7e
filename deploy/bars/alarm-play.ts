import type { Quantities } from '../../engine/alarms/quantities.ts';
import { type AlarmState, acknowledge, alarmViews, initialAlarms, restoreAlarms, shelve, stepAlarms, unshelve } from '../../engine/alarms/reduce.ts';
import type { EngineTime } from '../../shared/ports.ts';
import type { Alarm, AlarmChange, Priority } from '../../shared/schema/alarm.ts';
import type { AlarmRule, NumericCondition } from '../../shared/schema/alarm-rule.ts';
import { CAUSE, createWitness, LEVEL } from './alarm-witness.ts';

const STEP_MS = 10_000;
const START_MS = Date.UTC(2026, 5, 1);

/** What happens to a rig's alarms. `steps`: of 10 s each. */
export type AlarmEvent =
  | { readonly kind: 'hold'; readonly warm: number | null; readonly cause: number | null; readonly silent: readonly string[]; readonly steps: number }
  | { readonly kind: 'acknowledge'; readonly id: string; readonly isOld: boolean }
  | { readonly kind: 'shelve'; readonly id: string; readonly minutes: number }
  | { readonly kind: 'unshelve'; readonly id: string }
  | { readonly kind: 'restart'; readonly clockSure: boolean; readonly jumpS: number }
  | { readonly kind: 'jump'; readonly hours: number }
  | { readonly kind: 'rules'; readonly set: number };

export const IDS = ['level', 'cause', 'rate', 'count', 'echo', 'deaf'] as const;
type Levels = readonly (readonly [Priority, NumericCondition])[];
const rule = (id: string, levels: Levels, onDelayS: number, offDelayS: number, over: Partial<AlarmRule> = {}): AlarmRule => ({
  id,
  builtIn: false,
  adjusted: false,
  title: id,
  levels: levels.map(([priority, when]) => ({ priority, when })),
  onDelayS,
  offDelayS,
  message: `${id} at {warm}`,
  messageOver: `${id} is over`,
  messageUnknown: `${id} cannot be told: {why}`,
  routes: null,
  because: [],
  unknown: 'raise',
  outOfService: false,
  notWatched: '',
  ...over,
});
const over = (watch: string, limit: number, deadband = 0): NumericCondition => ({ watch, test: 'above', limit, deadband });

const level = (over_: Partial<AlarmRule> = {}): AlarmRule =>
  rule(
    'level',
    [
      ['medium', over('warm', LEVEL.medium, LEVEL.deadband)],
      ['high', over('warm', LEVEL.high, LEVEL.deadband)],
    ],
    LEVEL.onS,
    LEVEL.offS,
    { because: ['cause'], ...over_ },
  );
const others: readonly AlarmRule[] = [
  rule('cause', [['low', over('cause', 0)]], CAUSE.onS, CAUSE.offS),
  rule('rate', [['high', { watch: 'warm', test: 'rising', by: 8, withinS: 120, deadband: 2 }]], 0, 30),
  rule('count', [['low', over('sensors.silent', 0)]], 20, 40),
  rule('echo', [['critical', { all: [{ alarm: 'level' }, { not: { alarm: 'cause' } }] }]], 0, 0),
  rule('deaf', [['low', over('warm', 35, 1)]], 10, 10, { unknown: 'ignore', because: ['level'] }),
];

/** Rules as edits of the rig file leave them: all; `level` taken out of service; removed; looking the other way. */
export const RULE_SETS: readonly (readonly AlarmRule[])[] = [
  [level(), ...others],
  [level({ outOfService: true }), ...others],
  others,
  [level({ levels: [{ priority: 'medium', when: { watch: 'warm', test: 'below', limit: 10, deadband: 1 } }] }), ...others],
];

/** One rig's alarms, played. */
export interface Play {
  state: AlarmState;
  time: EngineTime;
  rules: readonly AlarmRule[];
  set: number;
}

const seen = ({ warm, cause, silent }: Extract<AlarmEvent, { kind: 'hold' }>): Quantities => ({
  value: (name) => (name === 'warm' ? warm : name === 'cause' ? cause : silent.length),
  whyUnknown: (name) => `${name} is silent`,
  names: (name) => (name === 'sensors.silent' ? silent : []),
  silentMs: () => 0,
  words: () => String(warm),
});

/** Plays events from a fresh start and looks after each step and command for what must never be. The first such thing in words; null when there was none. */
export function playAlarms(events: readonly AlarmEvent[]): string | null {
  const play: Play = {
    state: initialAlarms(),
    time: { wallMs: START_MS, monoMs: 1000, bootId: 'boot-0', clockSure: true },
    rules: RULE_SETS[0] ?? [],
    set: 0,
  };
  const witness = createWitness();
  const views = (): readonly Alarm[] => alarmViews(play.state, play.rules);
  for (const [i, event] of events.entries()) {
    const before = views();
    let fault: string | null = null;
    if (event.kind === 'hold') {
      const quantities = seen(event);
      for (let step = 0; step < event.steps && fault === null; step++) {
        const last = views();
        play.time = { ...play.time, wallMs: play.time.wallMs + STEP_MS, monoMs: play.time.monoMs + STEP_MS };
        const { state, changes } = stepAlarms(play.state, quantities, play.rules, play.time);
        play.state = state;
        fault = witness.stepped(event, play, last, views(), changes);
      }
    } else if (event.kind === 'restart') {
      const wallMs = play.time.wallMs + 1000 * event.jumpS;
      play.time = { wallMs, monoMs: 1000, bootId: `boot-${i + 1}`, clockSure: event.clockSure };
      const restored = restoreAlarms(JSON.stringify(play.state), play.time);
      if (restored) play.state = restored;
      fault = restored ? witness.restarted(before, views()) : 'the state cannot be restored';
    } else if (event.kind === 'jump') {
      play.time = { ...play.time, wallMs: play.time.wallMs + 3_600_000 * event.hours };
    } else if (event.kind === 'rules') {
      play.set = event.set;
      play.rules = RULE_SETS[event.set] ?? [];
      witness.edited();
    } else {
      const changes = command(play, event, before);
      fault = witness.commanded(event, play, before, views(), changes);
    }
    if (fault !== null) return `${fault}, after event ${i + 1} (${event.kind})`;
  }
  return null;
}

function command(play: Play, event: Exclude<AlarmEvent, { kind: 'hold' | 'restart' | 'jump' | 'rules' }>, before: readonly Alarm[]): readonly AlarmChange[] {
  const { state, time, rules } = play;
  const occurrence = (before.find(({ id }) => id === event.id)?.occurrence ?? 0) - (event.kind === 'acknowledge' && event.isOld ? 1 : 0);
  const outcome =
    event.kind === 'acknowledge'
      ? acknowledge(state, event.id, occurrence, 'somebody', time, rules)
      : event.kind === 'shelve'
        ? shelve(state, event.id, 60_000 * event.minutes, 'somebody', time, rules)
        : unshelve(state, event.id, 'somebody', time, rules);
  play.state = outcome.state;
  return outcome.changes;
}
