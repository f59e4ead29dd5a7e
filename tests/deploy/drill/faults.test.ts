import { describe, expect, test } from 'vitest';
import { drilled, FAULTS } from '../../../deploy/drill/faults.ts';

/** The rest takes the command `drill`. */
const QUICK = ['store-full', 'push-410', 'killed-before-sending', 'killed-before-result'];

describe('whatever breaks beside a real rig, the alarm arrives, or the screen says that no route is left', () => {
  test.each(FAULTS.filter(({ name }) => QUICK.includes(name)))('$name: $what', async (fault) => {
    const { arrived, holds } = await drilled(fault);
    expect(holds, arrived).toBe(true);
  });

  test('what is told to be quick is there', () => {
    expect(QUICK.filter((name) => !FAULTS.some((fault) => fault.name === name))).toEqual([]);
  });
});
