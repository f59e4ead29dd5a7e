import { expect, test } from 'vitest';
import { createBlockCache } from '../../../../collector/store/sqlite/block-cache.ts';
import { columnRoom, NO_COLUMNS } from '../../../../collector/store/sqlite/columns.ts';

/** A cache that says which keys it had to decode. */
function watched() {
  const cache = createBlockCache();
  return (key: number, readings: number): boolean => {
    let isDecoded = false;
    cache.get(String(key), () => {
      isDecoded = true;
      return readings === 0 ? NO_COLUMNS : { ...columnRoom(readings), marks: [] };
    });
    return isDecoded;
  };
}

test('years of hours that were dropped do not stay for ever: each takes room though it has no readings', () => {
  const get = watched();
  for (let hour = 0; hour < 9000; hour += 1) expect(get(hour, 0)).toBe(true);
  expect(get(8999, 0)).toBe(false);
  expect(get(0, 0)).toBe(true);
});

test('two days of a reading a second are kept, and what was used last stays longest', () => {
  const get = watched();
  for (let hour = 0; hour < 48; hour += 1) get(hour, 3600);
  expect(get(0, 3600)).toBe(false);
  for (let hour = 48; hour < 60; hour += 1) get(hour, 3600);
  expect(get(0, 3600)).toBe(false);
  expect(get(1, 3600)).toBe(true);
  expect(get(0, 3600)).toBe(false);
});
