import { describe, expect, it } from 'vitest';
import { heldTemperatures } from '../../../engine/cabin/held.ts';
import type { Bin } from '../../../engine/types.ts';
import { pastOf } from '../../helpers/engine-bins.ts';
import { NOON_MS, rigOf } from '../../helpers/engine-rig.ts';

const MAX_W = 900;
/** Six days of a heated cabin: the thermostat holds it by night, a few tenths up and down, and the sun warms it by day. */
const heated = (holdC: (day: number) => number, over: (bin: Bin) => Partial<Bin> = () => ({})): Bin[] =>
  pastOf(rigOf(), NOON_MS, {
    days: 6,
    edit: (bin, day) => {
      const cabinC = holdC(day) + 0.2 * Math.sin(bin.tMs / 2e6) + ((bin.panelsW ?? 0) > 20 ? 0.012 * (bin.panelsW ?? 0) : 0);
      return { ...bin, setpointC: null, minisplitW: null, cabinC, ...over(bin) };
    },
  });

describe('the temperature that a thermostat holds, where no setpoint is sent', () => {
  it('is the one that the cabin comes back to, not the one of sunny hours', () => {
    const held = heldTemperatures(
      heated(() => 19),
      MAX_W,
    );
    for (const heldC of held) expect(Math.abs((heldC ?? 0) - 19)).toBeLessThan(0.4);
  });

  it('follows when the person sets another', () => {
    const held = heldTemperatures(
      heated((day) => (day < 3 ? 19 : 22)),
      MAX_W,
    );
    expect(Math.abs((held[144] ?? 0) - 19)).toBeLessThan(0.4);
    expect(Math.abs((held.at(-1) ?? 0) - 22)).toBeLessThan(0.4);
  });

  it('is not what the cabin comes to while the unit rests or is at its limit', () => {
    const atLimit = (bin: Bin): Partial<Bin> => (bin.tMs % 86_400_000 < 50_000_000 ? { minisplitW: MAX_W, cabinC: 27 } : { minisplitW: 300, cabinC: 24 });
    const held = heldTemperatures(
      heated(() => 24, atLimit),
      MAX_W,
    );
    expect(held.at(-1)).toBeCloseTo(24, 1);
  });

  it('is not known without a cabin thermometer', () => {
    expect(
      heldTemperatures(
        heated(
          () => 20,
          () => ({ cabinC: null }),
        ),
        MAX_W,
      ).every((heldC) => heldC === null),
    ).toBe(true);
  });
});
