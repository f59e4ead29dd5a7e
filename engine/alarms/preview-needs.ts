import { CATALOGUE } from '../../shared/quantities.ts';
import type { AlarmRule, NumericCondition } from '../../shared/schema/alarm-rule.ts';
import type { RigModel } from '../types.ts';
import { leavesOf } from './rule.ts';
import { signalText } from './seen.ts';

/** What of the past a rule is rebuilt from, beside its signals. */
export interface PastNeeds {
  /** Mapped signals, as means of minutes. */
  readonly signals: readonly string[];
  /** Those of them whose value of the very moment counts, so that it matters how far it went within a minute. */
  readonly momentary: readonly string[];
  /** The state of charge as it was believed. */
  readonly charge: boolean;
  readonly projections: boolean;
  /** What the panels could have given. */
  readonly panels: boolean;
  /** When the bank was full. */
  readonly full: boolean;
  /** Means and courses of minutes. */
  readonly means: boolean;
}

interface Source extends Partial<Omit<PastNeeds, 'signals' | 'momentary'>> {
  /** Names, or beginnings that end with a dot; 'all' are all of the rig. */
  readonly signals: readonly string[] | 'all';
  readonly isMomentary?: true;
}

const PLACE = ['place.lat', 'place.lon', 'place.heading'];
const SHUNT = ['bank.voltage', 'bank.current'];
const POWERS = [...SHUNT, 'panels.', 'minisplit.power', 'charge.', 'load.', ...PLACE];
const HELD = ['cabin.temperature', 'minisplit.setpoint', 'minisplit.mode'];
const night: Source = { signals: ['bank.current'], projections: true };

/** What derived and projected quantities are rebuilt from. What is not here is not stored. */
const SOURCES: ReadonlyMap<string, Source> = new Map<string, Source>([
  ['night.belowFloorProbability', night],
  ['night.lowPointPct', night],
  ['night.sunrisePct', night],
  ['night.marginWh', night],
  ['bank.socPct', { signals: [], charge: true }],
  ['bank.socSigmaPct', { signals: [], charge: true, projections: true }],
  ['bank.marginPct', { signals: ['bank.current', 'bank.stateOfCharge'], charge: true, projections: true }],
  ['bank.hoursToEmpty', { signals: ['bank.current', 'bank.temperature'], charge: true, projections: true }],
  ['bank.chargePctPerH', { signals: ['bank.current'] }],
  ['bank.daysSinceFull', { signals: SHUNT, charge: true, projections: true, full: true }],
  ['bank.cellMarginV', { signals: ['bank.cellVoltageMin'], isMomentary: true }],
  ['bank.aboveChargeLimitK', { signals: ['bank.temperature'], isMomentary: true }],
  ['bank.refusedW', { signals: [...POWERS, 'bank.temperature', 'bank.chargeAllowed'], charge: true, projections: true, panels: true }],
  ['inverter.voltageMarginV', { signals: ['bank.voltage'], isMomentary: true }],
  ['inverter.cellMarginV', { signals: ['bank.voltage'], isMomentary: true }],
  ['cabin.overK', { signals: HELD, isMomentary: true }],
  ['cabin.underK', { signals: HELD, isMomentary: true }],
  ['cabin.awayK', { signals: HELD, isMomentary: true }],
  ['cabin.worseningKPerH', { signals: HELD, means: true }],
  ['minisplit.meanW', { signals: ['minisplit.power'], means: true }],
  ['minisplit.meanPct', { signals: ['minisplit.power'], means: true }],
  ['balance.unaccountedW', { signals: POWERS, panels: true, means: true }],
  ['sensors.silent', { signals: 'all' }],
  ['sensors.silentNeeded', { signals: 'all' }],
  ['sensors.silentBank', { signals: SHUNT }],
]);

/** Why a quantity cannot be rebuilt, by the beginning of its name; each is a whole sentence without its stop. */
const LOST: readonly (readonly [start: string, why: string])[] = [
  ['box.', 'how the box itself fared (broker, store, clock) is not kept'],
  ['routes.', 'whether the routes worked is not kept'],
  ['watch.', 'what the watch over somebody inside looked at is not kept'],
  ['sensors.', 'which readings were not believed is not kept'],
  ['panels.', 'what the panels lost to dirt and shade is known only as of today'],
  ['bank.unseenA', 'what flowed past the shunt, as it was taken then, is not kept'],
];

/** A rule and those that it looks at or that may hold it back, as far as they can be rebuilt. */
export interface Rebuildable {
  /** With the rule asked for under its own id; null: nothing of it can be rebuilt. */
  readonly rules: readonly AlarmRule[] | null;
  readonly needs: PastNeeds;
  /** What it watches that is not stored, in words, each once. */
  readonly notRebuilt: readonly string[];
}

/** Takes out of a rule what cannot be rebuilt, so that what is left never sounds where the whole would not, and gathers what it takes to follow it. */
export function rebuildable(id: string, all: readonly AlarmRule[], rig: Pick<RigModel, 'everyS'>): Rebuildable {
  const notRebuilt = new Set<string>();
  const done = new Map<string, AlarmRule | null>();
  const visit = (ruleId: string, tell: (why: string) => void): AlarmRule | null => {
    const known = done.get(ruleId);
    if (known !== undefined) return known;
    done.set(ruleId, null);
    const rule = all.find((one) => one.id === ruleId);
    if (rule?.notWatched !== '') return null;
    const canSee = (leaf: NumericCondition): boolean => {
      if ('alarm' in leaf) {
        if (visit(leaf.alarm, tell)) return true;
        tell(`whether “${titleOf(leaf.alarm, all)}” stood is not known for the past`);
        return false;
      }
      const why = 'watch' in leaf ? lostWhy(leaf.watch) : null;
      if (why !== null) tell(why);
      return why === null;
    };
    const levels = rule.levels.flatMap(({ priority, when }) => {
      const left = within(when, 1, canSee);
      return left ? [{ priority, when: left }] : [];
    });
    const because = rule.because.filter((cause) => {
      const of = all.find((one) => one.id === cause);
      if (of?.notWatched !== '' || of.outOfService) return false;
      if (visit(cause, () => {})) return true;
      tell(`whether “${of.title}” held it back is not known for the past`);
      return false;
    });
    const left = levels.length === 0 ? null : { ...rule, levels, because };
    done.set(ruleId, left);
    return left;
  };
  const asked = visit(id, (why) => notRebuilt.add(why));
  const rules = [...done.values()].filter((rule) => rule !== null);
  return { rules: asked && rules, needs: needsOf(rules, rig), notRebuilt: [...notRebuilt] };
}

const titleOf = (id: string, all: readonly AlarmRule[]): string => all.find((rule) => rule.id === id)?.title ?? id;

/** Why a name cannot be rebuilt; null when it can. */
function lostWhy(name: string): string | null {
  if (!CATALOGUE.has(name) || SOURCES.has(name)) return null;
  return LOST.find(([start]) => name.startsWith(start))?.[1] ?? `${CATALOGUE.get(name)?.label ?? signalText(name)} is not kept`;
}

/** What is left of a condition; null: nothing that could be told. Under an odd count of `not` (way -1) it must not become true more easily either. */
function within(condition: NumericCondition, way: 1 | -1, canSee: (leaf: NumericCondition) => boolean): NumericCondition | null {
  if ('not' in condition) {
    const part = within(condition.not, way === 1 ? -1 : 1, canSee);
    return part && { not: part };
  }
  if (!('all' in condition) && !('any' in condition)) return canSee(condition) ? condition : null;
  const parts = ('all' in condition ? condition.all : condition.any).map((part) => within(part, way, canSee));
  const left = parts.filter((part) => part !== null);
  const isStrict = 'all' in condition === (way === 1);
  if (left.length === 0 || (isStrict && left.length < parts.length)) return null;
  return 'all' in condition ? { all: left } : { any: left };
}

function needsOf(rules: readonly AlarmRule[], { everyS }: Pick<RigModel, 'everyS'>): PastNeeds {
  const names = new Set(rules.flatMap(({ levels }) => levels.flatMap(({ when }) => leavesOf(when).map(({ watch }) => watch))));
  const sources = [...names].map((name): Source => SOURCES.get(name) ?? { signals: [name], isMomentary: true });
  const isOf =
    (of: readonly Source[]) =>
    (signal: string): boolean =>
      of.some(({ signals }) => signals === 'all' || signals.some((one) => (one.endsWith('.') ? signal.startsWith(one) : signal === one)));
  return {
    signals: [...everyS.keys()].filter(isOf(sources)),
    momentary: [...everyS.keys()].filter(isOf(sources.filter(({ isMomentary }) => isMomentary))),
    charge: sources.some(({ charge }) => charge),
    projections: sources.some(({ projections }) => projections),
    panels: sources.some(({ panels }) => panels),
    full: sources.some(({ full }) => full),
    means: sources.some(({ means }) => means),
  };
}
