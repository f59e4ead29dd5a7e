import type { EngineTime } from '../../shared/ports.ts';
import type { Alarm, AlarmChange, Priority } from '../../shared/schema/alarm.ts';
import type { AlarmRule } from '../../shared/schema/alarm-rule.ts';
import { changeOf, deedOf, isChanged } from './changes.ts';
import { findLevel, type Sight } from './evaluate.ts';
import { type History, remembered } from './history.ts';
import { live } from './lifecycle.ts';
import type { Quantities } from './quantities.ts';
import { higher, isPriority, rankOf } from './rank.ts';
import { type AlarmRecord, type Finding, forgotten, quiet } from './record.ts';
import { historyKey, type ReadyRule, type ReadyRules, readyRules } from './rule.ts';
import { type AlarmState, atBoot, recordOf, withRecords } from './state.ts';
import { laidOff, rethought, suppressed } from './suppress.ts';

export { acknowledge, shelve, unshelve } from './commands.ts';
export { type AlarmState, initialAlarms, restoreAlarms } from './state.ts';

/** What a rule finds; `ignored`: its input is missing and it is to be left as it stands. */
type Found = Finding | 'ignored';

/** One step of all alarms: what each rule finds now, and what that changes. Changes come in the order of the rules. */
export function stepAlarms(
  previous: AlarmState,
  quantities: Quantities,
  rules: readonly AlarmRule[],
  time: EngineTime,
): { state: AlarmState; changes: readonly AlarmChange[] } {
  const ready = readyRules(rules);
  const booted = atBoot(previous, time);
  const histories = rememberedAll(booted.histories, ready, quantities, time.monoMs);
  const { records } = booted;
  const found = findAll(ready, records, sightOf(records, histories, quantities));
  const causes = heardCauses(ready, records, found, quantities);
  const next: (readonly [string, AlarmRecord])[] = [];
  const changes: [number, AlarmChange][] = [];
  const hidden = new Map<string, Hidden>();
  for (const index of ready.order) {
    const one = ready.list[index] as ReadyRule;
    const { id } = one.rule;
    const known = recordOf(records, id);
    const result = found[index] as Found;
    if (!known && result === null && one.laidOff !== 'out-of-service') continue;
    const before = known ?? quiet(one.lowest);
    const cause = causes[index] ?? null;
    const goesOn = cause !== null && soundsUntil(recordOf(records, cause), before);
    const after = one.laidOff ? layOff(one, before, time) : advance(one, before, result, hidden.get(id), goesOn ? null : cause, quantities, time);
    if (cause !== null && (goesOn || after.suppression === 'by-design') && after.lifecycle === 'unacknowledged') {
      hidden.set(cause, alsoHiding(hidden.get(cause), one, after.priority));
    }
    if (after === before) continue;
    next.push([id, after]);
    if (isChanged(before, after)) changes.push([index, changeOf(id, after, time.wallMs, deedOf(before, after), '')]);
  }
  for (const id in records) {
    if (ready.indexOf.has(id)) continue;
    const record = records[id] as AlarmRecord;
    // Its count goes on should the rule come back: what was told of it once must not be taken for the new.
    const after = record.occurrence === 0 ? quiet(record.priority) : laidOff(record, 'out-of-service', 'The rule has been removed.', time);
    if (after === record) continue;
    next.push([id, after]);
    if (record.occurrence > 0) changes.push([ready.list.length, changeOf(id, after, time.wallMs, 'out-of-service', '')]);
  }
  const isSame = next.length === 0 && booted === previous && histories === previous.histories;
  return {
    state: isSame ? previous : { ...booted, records: withRecords(records, next), histories },
    changes: changes.sort(([a], [b]) => a - b).map(([, change]) => change),
  };
}

/** What an alarm holds back of others that would sound now: the loudest of their priorities, and their titles. */
interface Hidden {
  readonly priority: Priority;
  readonly titles: readonly string[];
}

const alsoHiding = (hidden: Hidden | undefined, { rule }: ReadyRule, priority: Priority): Hidden => ({
  priority: higher(hidden?.priority ?? null, priority) ?? priority,
  titles: [...(hidden?.titles ?? []), rule.title],
});

/** The alarm is as loud as what it holds back, while its own condition is true. */
const louder = (found: Found, hidden: Hidden | undefined): Found => (hidden && isPriority(found) ? higher(found, hidden.priority) : found);

/** Whether an alarm sounds already, and its cause does not in its place: not yet, not as loud, or acknowledged by somebody who did not see this one. */
function soundsUntil(cause: AlarmRecord | undefined, record: AlarmRecord): boolean {
  if (record.lifecycle !== 'unacknowledged' || record.suppression !== 'none' || !record.heard) return false;
  const sounds = cause?.condition === true && cause.lifecycle === 'unacknowledged' && cause.suppression === 'none';
  return !sounds || rankOf(cause.priority) < rankOf(record.priority);
}

function layOff({ rule, laidOff: why }: ReadyRule, before: AlarmRecord, time: EngineTime): AlarmRecord {
  return why === 'out-of-service' ? laidOff(before, 'out-of-service', '', time) : laidOff(before, 'none', `Not watched: ${rule.notWatched}.`, time);
}

const NONE: readonly string[] = [];

/** One alarm's step: its life, then whether it is to be heard. */
function advance(
  one: ReadyRule,
  before: AlarmRecord,
  alone: Found,
  hidden: Hidden | undefined,
  cause: string | null,
  quantities: Quantities,
  time: EngineTime,
): AlarmRecord {
  const found = louder(alone, hidden);
  const { messages, reads, counted, delays } = one;
  const inService = before.suppression === 'out-of-service' ? { ...before, suppression: 'none' as const, sinceMs: time.wallMs } : before;
  const record = rethought(forgotten(inService, time), one, time);
  // What is hidden has stood for its own delay already, so that one that stands is lifted at once.
  const isLifted = hidden !== undefined && isPriority(alone) && record.condition === true && rankOf(hidden.priority) > rankOf(record.priority);
  if (found === 'ignored') return suppressed(record, before, record.condition === true ? record.priority : null, cause, time);
  const lived = live(record, {
    finding: found,
    telling: { messages, reads, quantities, hidden: hidden?.titles ?? [] },
    hidden: one.lowest,
    delays: isLifted ? { ...delays, onMs: 0 } : delays,
    names: found === null || found === 'unknown' || counted.length === 0 ? NONE : counted.flatMap((name) => quantities.names(name)),
    time,
  });
  return suppressed(lived === record || lived.about === one.about ? lived : { ...lived, about: one.about }, before, found, cause, time);
}

/** What every rule finds, by its place in the list. */
function findAll({ list }: ReadyRules, records: AlarmState['records'], sight: Sight): readonly Found[] {
  return list.map(({ rule, levels, laidOff: off }): Found => {
    if (off) return null;
    const record = recordOf(records, rule.id);
    const loudRank = !record || record.condition === false ? -1 : rankOf(record.priority);
    const finding = findLevel(levels, sight, record?.condition === true ? loudRank : -1, loudRank);
    if (finding !== 'unknown' || rule.unknown === 'raise') return finding;
    return record?.condition === 'unknown' ? null : 'ignored';
  });
}

/**
 * For every rule that finds or has something: the alarm that is heard instead, since it is its cause; null when none is. A cause counts from
 * its first finding on, on-delay included, until its alarm is over, off-delay included. A shelved one holds nothing back.
 */
function heardCauses({ list, order }: ReadyRules, records: AlarmState['records'], found: readonly Found[], quantities: Quantities): readonly (string | null)[] {
  const heard: (string | null)[] = list.map(() => null);
  const isActive = (index: number): boolean => {
    const one = list[index] as ReadyRule;
    const record = recordOf(records, one.rule.id);
    // One that is left as it stands since it sees nothing cannot vouch for what it would hide.
    if (one.laidOff || record?.suppression === 'shelved' || found[index] === 'ignored') return false;
    return isPriority(found[index]) || record?.condition === true;
  };
  for (let i = order.length - 1; i >= 0; i--) {
    const index = order[i] as number;
    const { causes, rule, ofSight, dependsOn, laidOff: off } = list[index] as ReadyRule;
    if (causes.length === 0 || off) continue;
    const record = recordOf(records, rule.id);
    if (found[index] === null && (!record || record.lifecycle === 'normal')) continue;
    // What cannot be seen explains what is not known, and other alarms of its kind; it never hides a finding that is true, nor what is not known for another reason.
    const explains = (cause: number): boolean => {
      const of = list[cause] as ReadyRule;
      if (isPriority(found[index])) return ofSight || !of.ofSight;
      return !of.namesSignals || namesOf(of, recordOf(records, of.rule.id), quantities).some((name) => dependsOn.includes(name));
    };
    const cause = causes.find((one) => isActive(one) && explains(one));
    if (cause !== undefined) heard[index] = heard[cause] ?? list[cause]?.rule.id ?? null;
  }
  return heard;
}

/** What an alarm speaks of now, or spoke of until its off-delay is over. */
const namesOf = ({ counted }: ReadyRule, record: AlarmRecord | undefined, quantities: Quantities): readonly string[] => [
  ...counted.flatMap((name) => quantities.names(name)),
  ...(record?.subjects ?? []).map(({ name }) => name),
];

/** What conditions are asked against. Each value is asked for once a step, and only when a condition needs it. */
function sightOf(records: AlarmState['records'], histories: AlarmState['histories'], quantities: Quantities): Sight {
  const values = new Map<string, number | null>();
  return {
    value(name) {
      let value = values.get(name);
      if (value === undefined) {
        value = quantities.value(name);
        values.set(name, value);
      }
      return value;
    },
    silentMs: (signal) => quantities.silentMs(signal),
    conditionOf: (id) => recordOf(records, id)?.condition ?? false,
    historyOf: (name, withinS) => histories[historyKey(name, withinS)] ?? [],
  };
}

function rememberedAll(before: AlarmState['histories'], { histories }: ReadyRules, quantities: Quantities, monoMs: number): AlarmState['histories'] {
  const next: Record<string, History> = {};
  let changed = Object.keys(before).length !== histories.length;
  for (const { key, name, withinMs } of histories) {
    const known = before[key];
    next[key] = remembered(known ?? [], quantities.value(name), withinMs, monoMs);
    changed ||= next[key] !== known;
  }
  return changed ? next : before;
}

/** Raises within an hour from which on an alarm is said to chatter: with delays of minutes, this is flapping. */
const CHATTERS = 3;

/** Every rule's alarm for the screens, also those that are normal or not watched. `helpsOf`: what would help against an alarm that stands. */
export function alarmViews(state: AlarmState, rules: readonly AlarmRule[], helpsOf: (id: string) => readonly string[] = () => []): readonly Alarm[] {
  return readyRules(rules).list.map(({ rule, lowest, laidOff: off }): Alarm => {
    const r = recordOf(state.records, rule.id) ?? quiet(lowest);
    return {
      id: rule.id,
      title: rule.title,
      condition: r.condition,
      lifecycle: r.lifecycle,
      suppression: off === 'out-of-service' ? off : r.suppression,
      priority: r.priority,
      text: r.text,
      helps: r.condition === false ? [] : [...helpsOf(rule.id)],
      sinceMs: r.sinceMs,
      occurrence: r.occurrence,
      raisesLastHour: r.raises.length,
      chattering: r.raises.length >= CHATTERS,
      shelvedUntilMs: r.shelf?.untilMs ?? null,
      heldBackBy: r.heldBackBy,
      notWatched: rule.notWatched,
      acknowledgedBy: r.acknowledgedBy,
    };
  });
}
