import type { RigFilePort } from '../../collector/config/edit.ts';
import type { RigFileChange } from '../../collector/config/patch.ts';
import { AppError, type Issue } from '../../shared/errors.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';

/** What edits by command need of the rig file, and of what lies beside it. */
export interface EditPort extends Pick<RigFilePort, 'current' | 'edit'> {
  /** What must be done before the embedded broker may listen beyond this box; '' or left out: nothing. */
  brokerBound?(): string;
}

const DURATIONS = ['onDelay', 'offDelay', 'silent', 'within', 'after', 'repeatEvery', 'every', 'commitEvery', 'keepRaw'];

/**
 * Makes changes to the rig file as it is in force. Resolves with why it was refused, in words for the person; '' when it is on disk and in force.
 * @param within  what of the file the edit is about: a mistake there is told by its key within, any other by its place in the file
 * @param changes  what changes, from the file in force; a text: why nothing can
 */
export async function editFile(port: EditPort, hash: string, within: RegExp, changes: (file: RigFile) => readonly RigFileChange[] | string): Promise<string> {
  const { file, fault } = port.current();
  if (fault !== null) return `the rig file as it is now is not in force and must be mended by hand first: ${fault}`;
  const wanted = changes(file);
  if (typeof wanted === 'string') return wanted;
  try {
    await port.edit(wanted, hash);
    return '';
  } catch (error) {
    return refusalOf(error, within);
  }
}

/** The keys of a group that become another value, or none. */
export function keyChanges(path: RigFileChange['path'], before: object, after: object): RigFileChange[] {
  return [...new Set([...Object.keys(before), ...Object.keys(after)])]
    .map((key) => ({ path: [...path, key], was: Reflect.get(before, key), value: Reflect.get(after, key) }))
    .filter(({ was, value }) => JSON.stringify(was) !== JSON.stringify(value))
    .map(({ path: at, value }) => ({ path: at, value: written(value, String(at.at(-1))) }));
}

/** A value as a person would write it: durations with their unit, nothing for what is left out. */
export function written(value: unknown, key = ''): unknown {
  if (typeof value === 'number' && DURATIONS.includes(key)) return withUnit(value);
  if (Array.isArray(value)) return value.map((item) => written(item));
  if (typeof value !== 'object' || value === null) return value;
  const entries = Object.entries(value).filter(([, item]) => item !== undefined);
  return Object.fromEntries(entries.map(([name, item]) => [name, written(item, name)]));
}

function withUnit(seconds: number): string {
  if (seconds >= 86_400 && seconds % 86_400 === 0) return `${seconds / 86_400} d`;
  if (seconds >= 3600 && seconds % 3600 === 0) return `${seconds / 3600} h`;
  return seconds >= 60 && seconds % 60 === 0 ? `${seconds / 60} min` : `${seconds} s`;
}

function refusalOf(error: unknown, within: RegExp): string {
  if (error instanceof AppError) {
    if (error.code === 'RIG_FILE_CHANGED') return 'the rig file changed meanwhile; look again, and repeat the edit if it still fits';
    if (error.code === 'RIG_FILE_MISSING') return 'the rig file cannot be read; see that it is in its place, then repeat the edit';
    if (error.code === 'RIG_FILE_INVALID') return error.issues.map((issue) => issueWords(issue, within)).join('\n');
  }
  const code = (error as NodeJS.ErrnoException | null)?.code;
  if (typeof code === 'string' && !(error instanceof AppError))
    return `the rig file cannot be written (${code}); see that its folder may be written to and its disk has room, then repeat the edit`;
  throw error;
}

function issueWords({ path, place, got, expected, hint }: Issue, within: RegExp): string {
  const where = within.exec(path)?.[1] ?? [place, path].filter((part) => part !== '').join(' ');
  return `${where}: got ${got}, expected ${expected}${hint === '' ? '' : `; ${hint}`}`;
}
