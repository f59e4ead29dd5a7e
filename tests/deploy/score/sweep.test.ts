import { expect, test } from 'vitest';
import { alarmAtFloor } from '../../../deploy/score/sweep.ts';

const MINUTE_MS = 60_000;
const START_MS = Date.UTC(2026, 5, 1, 16);
/** A projection every ten minutes with a chance of falling under 20 and 40 %. */
const lines = (at20: readonly number[], at40: readonly number[], known = true) =>
  at20.map((chance, i) => ({
    kind: 'floors' as const,
    tMs: START_MS + 10 * i * MINUTE_MS,
    known,
    chances: [
      [20, chance],
      [40, at40[i] ?? 0],
    ] as const,
  }));
const told = (changes: ReturnType<typeof alarmAtFloor>) => changes.map(({ tMs, deed, priority }) => [(tMs - START_MS) / MINUTE_MS, deed, priority]);

test('each floor has its own chances, and the delays of the built-in rule', () => {
  const projected = lines([0, 0, 0.1, 0, 0, 0], [0, 0.3, 0.3, 0.7, 0.7, 0.7]);
  expect(alarmAtFloor(projected, 20)).toEqual([]);
  expect(told(alarmAtFloor(projected, 40).slice(0, 2))).toEqual([
    [21, 'raised', 'medium'],
    [41, 'worse', 'high'],
  ]);
});

test('what the alarms would not have trusted is not known', () => {
  expect(told(alarmAtFloor(lines([0.9, 0.9, 0.9], [0, 0, 0], false), 20))[0]).toEqual([10, 'out-of-sight', 'medium']);
});
