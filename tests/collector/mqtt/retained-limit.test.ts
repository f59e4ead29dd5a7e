import { expect, it } from 'vitest';
import { createRetainedLimit } from '../../../collector/mqtt/retained-limit.ts';

it('keeps topics up to the limit, lets kept ones change, and takes a new one when another was cleared', () => {
  const mayRetain = createRetainedLimit({ topics: 2, bytes: 100 });
  expect([mayRetain('a', 1), mayRetain('b', 1), mayRetain('c', 1), mayRetain('a', 5)]).toEqual([true, true, false, true]);
  expect([mayRetain('b', 0), mayRetain('c', 1), mayRetain('b', 1)]).toEqual([true, true, false]);
});

it('keeps no more bytes than the limit, counting what a topic holds now', () => {
  const mayRetain = createRetainedLimit({ topics: 10, bytes: 100 });
  expect([mayRetain('a', 60), mayRetain('b', 60), mayRetain('a', 30), mayRetain('b', 60)]).toEqual([true, false, true, true]);
});
