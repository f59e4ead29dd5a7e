import { describe, expect, test } from 'vitest';
import { copyIsIll, copyText } from '../../../../dashboard/web/src/format/copy.ts';
import type { CopyView } from '../../../../shared/schema/copy.ts';

const NOW_MS = 1_780_272_000_000;
const view = (given: Partial<CopyView> = {}): CopyView => ({
  state: 'up-to-date',
  waiting: 0,
  sinceMs: null,
  why: '',
  dropped: 0,
  refused: 0,
  refusedWhy: '',
  remarks: [],
  ...given,
});

describe('where the copy on the server stands, in words', () => {
  test.each<[Partial<CopyView>, string, boolean]>([
    [{}, 'up to date', false],
    [{ state: 'starting' }, 'nothing sent yet', false],
    [{ state: 'behind', waiting: 12_000, sinceMs: NOW_MS - 3 * 3_600_000 }, 'making up: 12\u202f000 readings still to send, the oldest 3 h old', false],
    [
      { state: 'waiting', why: 'the server does not answer', waiting: 40, sinceMs: NOW_MS - 120_000 },
      'waits, the server does not answer; 40 readings to send, the oldest 2 min old',
      true,
    ],
    [{ state: 'paused', why: 'not allowed (401)' }, 'paused: not allowed (401)', true],
    [{ dropped: 7 }, 'up to date. Dropped, since too many waited: 7 readings', true],
    [{ refused: 1, refusedWhy: '400: no' }, 'up to date. Refused by the server: 1 reading (400: no)', true],
    [{ remarks: ['The server is odd.'] }, 'up to date. The server is odd', true],
  ])('%o', (given, words, isIll) => {
    expect(copyText(view(given), NOW_MS)).toBe(words);
    expect(copyIsIll(view(given))).toBe(isIll);
  });
});
