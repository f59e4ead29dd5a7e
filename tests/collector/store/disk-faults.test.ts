import { expect, test } from 'vitest';
import { mayPass, remedyFor } from '../../../collector/store/disk-faults.ts';
import { AppError } from '../../../shared/errors.ts';

const coded = (code: string) => Object.assign(new Error('it failed'), { code });

test.each([
  ['SQLITE_FULL', true, 'the disk is full'],
  ['ENOSPC', true, 'the disk is full'],
  ['SQLITE_IOERR_WRITE', true, 'the disk reports errors'],
  ['EROFS', true, 'read-only'],
  ['SQLITE_CANTOPEN', true, 'cannot be opened'],
  ['SQLITE_BUSY', false, 'another program'],
  ['SQLITE_CORRUPT_INDEX', false, 'damaged'],
])('%s: whether it may pass, and what to do, also as the cause of another error', (code, passes, remedy) => {
  for (const error of [coded(code), new AppError('STORE_FAILED', 'not kept', { cause: coded(code) })]) {
    expect(mayPass(error)).toBe(passes);
    expect(remedyFor(error)).toContain(remedy);
  }
});

test('what is no error of a disk neither passes nor has a remedy', () => {
  for (const error of [new Error('no'), coded('DATA_IN_USE'), null, undefined, 'text']) {
    expect(mayPass(error)).toBe(false);
    expect(remedyFor(error)).toBeUndefined();
  }
});
