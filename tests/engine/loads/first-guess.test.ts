import { describe, expect, it } from 'vitest';
import { type FirstSight, firstGuesses } from '../../../engine/loads/first-guess.ts';
import { project } from '../../../engine/project.ts';
import type { Bin } from '../../../engine/types.ts';
import { rigOf } from '../../helpers/engine-rig.ts';
import { lived, snapshotOf } from '../../helpers/engine-snapshot.ts';

const rig = rigOf({ capacityAh: 280 });
const { bins } = lived(rig, { days: 1 });
const drawing = (standingW: number, count: number, unaccountedW = 0): Bin[] => bins.slice(0, count).map((bin) => ({ ...bin, standingW, unaccountedW }));

const sight = (over: Partial<FirstSight>) => firstGuesses({ bins: [], standingW: null, minisplitW: null, hasMinisplit: true, ...over });
const standingOf = (seen: readonly Bin[], standingW: number | null) => sight({ bins: seen, standingW, hasMinisplit: false }).standing;
const cooling = (minisplitW: number | null, count: number): Bin[] => bins.slice(0, count).map((bin) => ({ ...bin, minisplitW }));

describe('the load of a rig that nobody has watched for a day', () => {
  it('is what rigs draw until something is seen, and goes to what is seen the longer it is', () => {
    const told = [standingOf([], null), standingOf([], 540), standingOf(drawing(540, 6), null), standingOf(drawing(540, 12), null)];
    const medians = told.map(({ medianW }) => medianW);
    expect(medians).toEqual(medians.toSorted((a, b) => a - b));
    expect(medians.at(-1)).toBeLessThan(540);
    const spreads = told.map(({ logSd }) => logSd);
    expect(spreads).toEqual(spreads.toSorted((a, b) => b - a));
  });

  it('is not told from times at which something unexplained came in, nor does a load of nothing break it', () => {
    expect(standingOf(drawing(540, 6, -200), null)).toEqual(standingOf([], null));
    expect(standingOf([], -3).medianW).toBeGreaterThan(0);
  });

  it('has the mini-split in it where no clamp tells it apart', () => {
    const bare = { bins: cooling(null, 6), minisplitW: null };
    expect(sight(bare).minisplit).toBeNull();
    expect(sight({ bins: [] }).standing.medianW).toBeGreaterThan(standingOf([], null).medianW + 100);
  });

  it('goes into the first verdict as it is measured, with a range as wide as what is not known', () => {
    const first = (standingW: number | null) => project(snapshotOf(rig, null, { standingW }), { loads: [] }, 7, 300, [], { forScreens: false }).lowPoint;
    const [light, heavy] = [first(20), first(540)];
    expect(heavy.p50Pct).toBeLessThan(light.p50Pct - 20);
    // What somebody cooks with in the first minute is not what the night takes: neither certain, nor left out.
    expect(heavy.p90Pct - heavy.p10Pct).toBeGreaterThan(25);
  });
});

describe('a mini-split that nobody has watched for a night', () => {
  it('is not held all night at what it drew when it started', () => {
    const starting = sight({ minisplitW: 900 }).minisplit;
    expect(starting?.medianW).toBeGreaterThan(150);
    expect(starting?.medianW).toBeLessThan(500);
    expect(sight({ bins: cooling(900, 12) }).minisplit?.medianW).toBeGreaterThan(starting?.medianW ?? 0);
  });

  it('may run in the night, though it rests now', () => {
    expect(sight({ bins: cooling(2, 6) }).minisplit).toEqual(sight({ minisplitW: 0 }).minisplit);
    expect(sight({ minisplitW: 0 }).minisplit?.medianW).toBeGreaterThan(100);
  });
});
