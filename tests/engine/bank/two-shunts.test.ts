import { describe, expect, it } from 'vitest';
import { initialState } from '../../../engine/state.ts';
import { NOON_MS, rigOf } from '../../helpers/engine-rig.ts';
import { worldOf } from '../../helpers/engine-world.ts';

const MINUTE_MS = 60_000;

/** The sum of two shunts stops when one of them does: to the engine the whole bank's current is missing. */
describe('one shunt of two falls silent', () => {
  const rig = rigOf();
  const world = worldOf(rig, initialState(rig, NOON_MS), NOON_MS, 0.8);

  it('is named after five minutes, and widens the doubt until it speaks again', () => {
    const before = world.live(NOON_MS + 60 * MINUTE_MS);
    expect(before.bank.remarks.join()).not.toContain('a shunt is silent');
    world.shuntSpeaks = false;
    const soon = world.live(NOON_MS + 66 * MINUTE_MS);
    expect(soon.bank.remarks.join()).toMatch(/no current of the whole bank for [56] min/);
    const later = world.live(NOON_MS + 80 * MINUTE_MS);
    expect(later.bank.socSigmaPct).toBeGreaterThan(before.bank.socSigmaPct);
    world.shuntSpeaks = true;
    expect(world.live(NOON_MS + 81 * MINUTE_MS).bank.remarks.join()).not.toContain('a shunt is silent');
  });
});
