import { describe, expect, it } from 'vitest';
import { firstGuess } from '../../../engine/loads/first-guess.ts';
import { project } from '../../../engine/project.ts';
import type { Bin } from '../../../engine/types.ts';
import { rigOf } from '../../helpers/engine-rig.ts';
import { lived, snapshotOf } from '../../helpers/engine-snapshot.ts';

const rig = rigOf({ capacityAh: 280 });
const { bins } = lived(rig, { days: 1 });
const drawing = (standingW: number, count: number, unaccountedW = 0): Bin[] => bins.slice(0, count).map((bin) => ({ ...bin, standingW, unaccountedW }));

describe('the load of a rig that nobody has watched for a day', () => {
  it('is what rigs draw until something is seen, and goes to what is seen the longer it is', () => {
    const [unseen, now, anHour, two] = [firstGuess([], null), firstGuess([], 540), firstGuess(drawing(540, 6), null), firstGuess(drawing(540, 12), null)];
    const medians = [unseen, now, anHour, two].map(({ medianW }) => medianW);
    expect(medians).toEqual(medians.toSorted((a, b) => a - b));
    expect(two.medianW).toBeLessThan(540);
    const spreads = [unseen, now, anHour, two].map(({ logSd }) => logSd);
    expect(spreads).toEqual(spreads.toSorted((a, b) => b - a));
  });

  it('is not told from times at which something unexplained came in, nor does a load of nothing break it', () => {
    expect(firstGuess(drawing(540, 6, -200), null)).toEqual(firstGuess([], null));
    expect(firstGuess([], -3).medianW).toBeGreaterThan(0);
  });

  it('goes into the first verdict as it is measured, with a range as wide as what is not known', () => {
    const first = (standingW: number | null) => project(snapshotOf(rig, null, { standingW }), { loads: [] }, 7, 300, [], { forScreens: false }).lowPoint;
    const [unseen, light, heavy] = [first(null), first(20), first(540)];
    expect(heavy.p50Pct).toBeLessThan(unseen.p50Pct - 10);
    expect(unseen.p50Pct).toBeLessThan(light.p50Pct);
    // What somebody cooks with in the first minute is not what the night takes: neither certain, nor left out.
    expect(heavy.p90Pct - heavy.p10Pct).toBeGreaterThan(25);
  });
});
