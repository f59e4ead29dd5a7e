import { AppError, reasonOf } from '../../../shared/errors.ts';

/** What a person can do about an error of the file, by the start of its code. */
const REMEDIES: readonly (readonly [code: string, remedy: string])[] = [
  ['SQLITE_FULL', 'the disk is full: free some space on it'],
  ['SQLITE_READONLY', 'the file or its disk is read-only: check the memory card and the permissions'],
  ['SQLITE_CANTOPEN', 'the file cannot be opened: check that its folder exists and may be written to'],
  ['SQLITE_IOERR', 'the disk reports errors: check the memory card, better replace it'],
  ['SQLITE_BUSY', 'another program holds the file: stop it'],
  ['SQLITE_CORRUPT', 'the file is damaged: it is set aside and a fresh one started at the next write'],
  ['SQLITE_NOTADB', 'the file is damaged: it is set aside and a fresh one started at the next write'],
];

/** A STORE_FAILED that says what could not be done, why and what to do. TypeErrors, mistakes of the caller, stay as they are. */
export function storeFailure(action: string, path: string, cause: unknown): Error {
  if (cause instanceof AppError || cause instanceof TypeError) return cause;
  const code = String((cause as { code?: unknown } | null)?.code ?? '');
  const remedy = REMEDIES.find(([start]) => code.startsWith(start))?.[1];
  const why = `${reasonOf(cause)}${code === '' ? '' : ` (${code})`}`;
  return new AppError('STORE_FAILED', `the store could not ${action} in ${path}: ${why}${remedy ? `; ${remedy}` : ''}`, { cause });
}
