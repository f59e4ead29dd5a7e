import { expect, it } from 'vitest';
import { textAtRest } from '../../../collector/config/watch.ts';

/** A file that shows these texts one after another, the last for good. */
function file(texts: readonly string[]) {
  let reads = 0;
  let rests = 0;
  return {
    read: async () => texts[Math.min(reads++, texts.length - 1)] ?? '',
    rest: async () => void rests++,
    rests: () => rests,
  };
}

it('takes a file that is written in several steps only when it has come to rest', async () => {
  const { read, rest } = file(['', 'rig: {', 'rig: { id: a }', 'rig: { id: a }\nalarms: []', 'rig: { id: a }\nalarms: []']);
  expect(await textAtRest(read, () => false, rest)).toBe('rig: { id: a }\nalarms: []');
});

it('does not wait for what is known already', async () => {
  const { read, rest, rests } = file(['known']);
  expect(await textAtRest(read, (text) => text === 'known', rest)).toBe('known');
  expect(rests()).toBe(0);
});
