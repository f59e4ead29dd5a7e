import { expect, it } from 'vitest';
import { shiftAt } from '../../../../dashboard/web/src/state/pixel-shift.ts';

const steps = Array.from({ length: 40 }, (_, step) => shiftAt(step));

it('starts where the page belongs and comes back there', () => {
  expect(shiftAt(0)).toEqual([0, 0]);
  expect(steps.filter(([x, y]) => x === 0 && y === 0)).toHaveLength(5);
});

it('moves by one pixel at a time', () => {
  for (const [i, [x, y]] of steps.slice(1).entries()) {
    const [fromX, fromY] = shiftAt(i);
    expect(Math.abs(x - fromX) + Math.abs(y - fromY)).toBe(1);
  }
});

it('never moves right or down, where the page would get scroll bars, and no further than two pixels', () => {
  for (const shift of steps.flat()) {
    expect(shift).toBeLessThanOrEqual(0);
    expect(shift).toBeGreaterThanOrEqual(-2);
  }
});
