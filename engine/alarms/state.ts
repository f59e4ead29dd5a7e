import type { EngineTime } from '../../shared/ports.ts';
import type { History } from './history.ts';
import { isPriority } from './rank.ts';
import { type AlarmRecord, isBlank, quiet, rebooted } from './record.ts';

export const ALARM_VERSION = 2;

/** State of all alarms; JSON-serialisable, kept apart from the engine's, written before anything is sent. */
export interface AlarmState {
  readonly version: number;
  readonly bootId: string;
  /** By id; an alarm that never happened has none. */
  readonly records: Readonly<Record<string, AlarmRecord>>;
  /** What conditions that rise or fall remember. */
  readonly histories: Readonly<Record<string, History>>;
}

export const initialAlarms = (): AlarmState => ({ version: ALARM_VERSION, bootId: '', records: {}, histories: {} });

/** The record of an alarm; undefined for one that never happened. */
export const recordOf = (records: AlarmState['records'], id: string): AlarmRecord | undefined => (Object.hasOwn(records, id) ? records[id] : undefined);

/** The records with others in place of some. Blank ones take no room. */
export function withRecords(records: AlarmState['records'], changed: readonly (readonly [string, AlarmRecord])[]): AlarmState['records'] {
  if (changed.length === 0) return records;
  const next = { ...records };
  for (const [id, record] of changed) {
    if (isBlank(record)) delete next[id];
    else next[id] = record;
  }
  return next;
}

/** The state in this run of the box. */
export function atBoot(state: AlarmState, time: EngineTime): AlarmState {
  if (state.bootId === time.bootId) return state;
  const records = Object.fromEntries(Object.entries(state.records).map(([id, record]) => [id, rebooted(record, time)]));
  return { ...state, bootId: time.bootId, records, histories: {} };
}

interface Stored {
  readonly version?: unknown;
  readonly records?: unknown;
  readonly lowPoint?: unknown;
}

/** Stored records by id: version 1 knew only one alarm. Null for what is neither. */
function storedRecords(stored: Stored | null): Readonly<Record<string, unknown>> | null {
  if (stored?.version === 1) return { 'low-point': stored.lowPoint };
  if (stored?.version !== ALARM_VERSION || typeof stored.records !== 'object' || Array.isArray(stored.records)) return null;
  return stored.records as Readonly<Record<string, unknown>> | null;
}

function storedRecord(body: unknown): AlarmRecord | null {
  const given = body as Partial<AlarmRecord> | null | undefined;
  if (typeof given?.lifecycle !== 'string' || !isPriority(given.priority) || typeof given.occurrence !== 'number') return null;
  // What a version before had raised had been heard, since nothing could hold it back.
  return { ...quiet(given.priority), heard: true, ...given };
}

/** A stored alarm state after a restart: what stood still stands, what was acknowledged or shelved stays so, and delays begin anew. A record that cannot be read is left out; null when nothing can. */
export function restoreAlarms(json: string, time: EngineTime): AlarmState | null {
  try {
    const stored = storedRecords(JSON.parse(json) as Stored | null);
    if (!stored) return null;
    const records: Record<string, AlarmRecord> = {};
    for (const [id, body] of Object.entries(stored)) {
      const record = storedRecord(body);
      if (record) records[id] = rebooted(record, time);
    }
    if (Object.keys(records).length === 0 && Object.keys(stored).length > 0) return null;
    return { version: ALARM_VERSION, bootId: time.bootId, records, histories: {} };
  } catch {
    return null;
  }
}
