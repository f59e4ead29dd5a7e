/** What a person can do about an error of a file or its disk, by the start of its code, and whether it may pass with nobody mending the file. */
const FAULTS: readonly (readonly [code: RegExp, passes: boolean, remedy: string])[] = [
  [/^(SQLITE_FULL|ENOSPC|EDQUOT)/, true, 'the disk is full: free some space on it'],
  [/^(SQLITE_READONLY|SQLITE_PERM|EROFS|EACCES|EPERM)/, true, 'the file or its disk is read-only: check the memory card and the permissions'],
  [/^SQLITE_CANTOPEN/, true, 'the file cannot be opened: check that its folder exists and may be written to'],
  [/^(SQLITE_IOERR|EIO|EUCLEAN)/, true, 'the disk reports errors: check the memory card, better replace it'],
  [/^SQLITE_BUSY/, false, 'another program holds the file: stop it'],
  [/^SQLITE_(CORRUPT|NOTADB)/, false, 'the file is damaged: it is set aside and a fresh one started at the next write'],
];

function faultOf(error: unknown): (typeof FAULTS)[number] | undefined {
  const { code, cause } = (error ?? {}) as { code?: unknown; cause?: unknown };
  return FAULTS.find(([start]) => typeof code === 'string' && start.test(code)) ?? (cause == null ? undefined : faultOf(cause));
}

/** What a person can do about an error, or one with a cause, in plain words; undefined where it is none of a file or its disk. */
export const remedyFor = (error: unknown): string | undefined => faultOf(error)?.[2];

/** True for a disk that is full, read-only, failing or not to be written to. */
export const mayPass = (error: unknown): boolean => faultOf(error)?.[1] ?? false;
