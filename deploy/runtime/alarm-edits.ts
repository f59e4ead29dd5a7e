import type { RigFilePort } from '../../collector/config/edit.ts';
import type { RigFileChange } from '../../collector/config/patch.ts';
import { AppError, type Issue } from '../../shared/errors.ts';
import { type AlarmEntry, BUILT_IN_ALARMS } from '../../shared/schema/alarm-rule.ts';
import type { Command } from '../../shared/schema/api.ts';

/** What edits by command need of the rig file. */
export type EditPort = Pick<RigFilePort, 'current' | 'edit'>;
type Edit = Extract<Command, { kind: 'edit-alarms' }>;

const DURATIONS = ['onDelay', 'offDelay', 'silent', 'within', 'after', 'repeatEvery'];

/**
 * Changes alarms, call-out or briefings in the rig file; only what is another than now is touched, so that all else stays as the person
 * wrote it. Resolves with why it was refused, in words for the person; '' when it is on disk and in force.
 */
export async function editAlarms({ change, hash }: Pick<Edit, 'change' | 'hash'>, port: EditPort): Promise<string> {
  const { file, fault } = port.current();
  if (fault !== null) return `the rig file as it is now is not in force and must be mended by hand first: ${fault}`;
  try {
    switch (change.what) {
      case 'rule':
        await port.edit(ruleChanges(file.alarms, change.entry), hash);
        return '';
      case 'drop-rule':
        if (!file.alarms.some(({ id }) => id === change.ruleId)) return notThere(change.ruleId);
        await port.edit([{ path: ['alarms', { id: change.ruleId }], value: undefined }], hash);
        return '';
      case 'call-out':
        await port.edit(keyChanges(['callOut'], file.callOut, change.callOut), hash);
        return '';
      case 'briefings':
        await port.edit(keyChanges(['briefings'], file.briefings, change.briefings), hash);
        return '';
    }
  } catch (error) {
    return refusalOf(error, change);
  }
}

function ruleChanges(alarms: readonly AlarmEntry[], entry: AlarmEntry): RigFileChange[] {
  const path = ['alarms', { id: entry.id }];
  const before = alarms.find(({ id }) => id === entry.id);
  return before ? keyChanges(path, before, entry) : [{ path, value: written(entry) }];
}

/** The keys of a group that become another value, or none. */
function keyChanges(path: RigFileChange['path'], before: object, after: object): RigFileChange[] {
  return [...new Set([...Object.keys(before), ...Object.keys(after)])]
    .map((key) => ({ path: [...path, key], was: Reflect.get(before, key), value: Reflect.get(after, key) }))
    .filter(({ was, value }) => JSON.stringify(was) !== JSON.stringify(value))
    .map(({ path: at, value }) => ({ path: at, value: written(value, String(at.at(-1))) }));
}

/** A value as a person would write it: durations with their unit, nothing for what is left out. */
function written(value: unknown, key = ''): unknown {
  if (typeof value === 'number' && DURATIONS.includes(key)) return withUnit(value);
  if (Array.isArray(value)) return value.map((item) => written(item));
  if (typeof value !== 'object' || value === null) return value;
  const entries = Object.entries(value).filter(([, item]) => item !== undefined);
  return Object.fromEntries(entries.map(([name, item]) => [name, written(item, name)]));
}

function withUnit(seconds: number): string {
  if (seconds >= 3600 && seconds % 3600 === 0) return `${seconds / 3600} h`;
  return seconds >= 60 && seconds % 60 === 0 ? `${seconds / 60} min` : `${seconds} s`;
}

function notThere(ruleId: string): string {
  return (BUILT_IN_ALARMS as readonly string[]).includes(ruleId)
    ? 'it is as built in already; to be rid of it, take it out of service'
    : 'the rig file has no such rule any more; look again';
}

function refusalOf(error: unknown, change: Edit['change']): string {
  if (error instanceof AppError) {
    if (error.code === 'RIG_FILE_CHANGED') return 'the rig file changed meanwhile; look again, and repeat the edit if it still fits';
    if (error.code === 'RIG_FILE_MISSING') return 'the rig file cannot be read; see that it is in its place, then repeat the edit';
    if (error.code === 'RIG_FILE_INVALID') return error.issues.map((issue) => issueWords(issue, change)).join('\n');
  }
  const code = (error as NodeJS.ErrnoException | null)?.code;
  if (typeof code === 'string' && !(error instanceof AppError))
    return `the rig file cannot be written (${code}); see that its folder may be written to and its disk has room, then repeat the edit`;
  throw error;
}

/** A mistake by its key within what is edited, where it lies there; else by its place in the file. */
function issueWords({ path, place, got, expected, hint }: Issue, change: Edit['change']): string {
  const inside = change.what === 'rule' ? /^alarms\.\d+\.(.+)$/ : change.what === 'call-out' ? /^callOut\.(.+)$/ : /^briefings\.(.+)$/;
  const where = inside.exec(path)?.[1] ?? [place, path].filter((part) => part !== '').join(' ');
  return `${where}: got ${got}, expected ${expected}${hint === '' ? '' : `; ${hint}`}`;
}
