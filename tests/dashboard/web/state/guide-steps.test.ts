import { expect, it } from 'vitest';
import { STEPS, stepHref, stepOf } from '../../../../dashboard/web/src/state/guide-steps.ts';

it('finds the step of an address and the address of a step, the end included', () => {
  for (const index of [0, 1, 2, 3, 4]) expect(stepOf(stepHref(index).split('/')[2] ?? '')).toBe(index);
  expect(STEPS).toHaveLength(4);
  for (const unknown of ['', '9', 'power']) expect(stepOf(unknown)).toBe(0);
});

it('asks for each section in one step alone', () => {
  const saved = STEPS.flatMap(({ saves }) => saves);
  expect(new Set(saved).size).toBe(saved.length);
  expect([...saved].sort()).toEqual(['bank', 'broker', 'inverter', 'minisplit', 'panels', 'place', 'rig']);
});
