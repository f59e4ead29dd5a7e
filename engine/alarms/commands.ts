import type { EngineTime } from '../../shared/ports.ts';
import type { AlarmChange } from '../../shared/schema/alarm.ts';
import type { AlarmRule } from '../../shared/schema/alarm-rule.ts';
import { changeOf } from './changes.ts';
import { acknowledgeRecord } from './lifecycle.ts';
import { type AlarmRecord, quiet } from './record.ts';
import { type ReadyRule, readyRules } from './rule.ts';
import { type AlarmState, atBoot, recordOf, withRecords } from './state.ts';

const MINUTE_MS = 60_000;
const DAY_MS = 86_400_000;

/** What became of a person's command; `refused`: why nothing was done, '' when it was. */
export interface CommandOutcome {
  readonly state: AlarmState;
  readonly changes: readonly AlarmChange[];
  readonly refused: string;
}

type Answer = AlarmRecord | { readonly refused: string };

function onRecord(
  state: AlarmState,
  rules: readonly AlarmRule[],
  alarmId: string,
  deed: AlarmChange['deed'],
  by: string,
  time: EngineTime,
  act: (record: AlarmRecord, one: ReadyRule) => Answer,
): CommandOutcome {
  const { list, indexOf } = readyRules(rules);
  const one = list[indexOf.get(alarmId) ?? -1];
  if (!one) return { state, changes: [], refused: 'there is no such alarm' };
  const booted = atBoot(state, time);
  const answer = act(recordOf(booted.records, alarmId) ?? quiet(one.lowest), one);
  if ('refused' in answer) return { state, changes: [], refused: answer.refused };
  return {
    state: { ...booted, records: withRecords(booted.records, [[alarmId, answer]]) },
    changes: [changeOf(alarmId, answer, time.wallMs, deed, by)],
    refused: '',
  };
}

/** Acknowledges an occurrence; refused with a reason when it is not the one that stands. */
export function acknowledge(state: AlarmState, alarmId: string, occurrence: number, by: string, time: EngineTime, rules: readonly AlarmRule[]): CommandOutcome {
  return onRecord(state, rules, alarmId, 'acknowledged', by, time, (before) => {
    const { record, refused } = acknowledgeRecord(before, occurrence, by, time);
    return refused === '' ? record : { refused };
  });
}

/** Puts an alarm away for a time, from a minute to a day. It comes back when the time is over, or when it gets worse than it is now. */
export function shelve(state: AlarmState, alarmId: string, forMs: number, by: string, time: EngineTime, rules: readonly AlarmRule[]): CommandOutcome {
  return onRecord(state, rules, alarmId, 'shelved', by, time, (record, one) => {
    if (one.laidOff) return { refused: one.laidOff === 'out-of-service' ? 'it is out of service' : 'it is not watched on this rig' };
    if (!(forMs >= MINUTE_MS && forMs <= DAY_MS)) return { refused: 'an alarm is shelved for a minute at least and a day at most' };
    const priority = record.condition === false ? one.highest : record.priority;
    const shelf = { leftMs: forMs, atMonoMs: time.monoMs, untilMs: time.wallMs + forMs, priority };
    return { ...record, shelf, suppression: 'shelved', heldBackBy: null };
  });
}

/** Takes an alarm off its shelf before its time is over. */
export function unshelve(state: AlarmState, alarmId: string, by: string, time: EngineTime, rules: readonly AlarmRule[]): CommandOutcome {
  return onRecord(state, rules, alarmId, 'unshelved', by, time, (record) => {
    if (record.shelf === null) return { refused: 'it is not shelved' };
    // Whoever takes it out sees it, so it must not go away unseen in the next step.
    return { ...record, shelf: null, suppression: 'none', heard: record.heard || record.condition !== false };
  });
}
