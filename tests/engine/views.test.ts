import { describe, expect, it } from 'vitest';
import { initialState } from '../../engine/state.ts';
import { watchedOf } from '../../engine/views.ts';
import type { Projection } from '../../shared/schema/projection.ts';
import { HOUR_MS, NOON_MS, rigOf } from '../helpers/engine-rig.ts';
import { projection } from '../helpers/web-scenario-parts.ts';

const rig = rigOf();

/** What the alarms look at, with a projection of the moment that starts its night `inH` hours from then. */
function watchedWith(over: Partial<Projection>, inH = 0) {
  const made = { ...projection(NOON_MS, 60, 40, 'holds'), tMs: NOON_MS, nightStartMs: NOON_MS + inH * HOUR_MS, nightEndMs: NOON_MS + 19 * HOUR_MS, ...over };
  return watchedOf({ ...initialState(rig, NOON_MS), projection: made }, rig, NOON_MS, false);
}

describe('what the alarms look at', () => {
  it.each(['learning', 'falls-short'] as const)('is the chance itself, while the verdict is %s', (verdict) => {
    expect(watchedWith({ verdict, nights: 0, belowFloorProbability: 0.7 })).toMatchObject({ belowFloorProbability: 0.7, unknownBecause: '' });
  });

  it('says that the bank is under its floor in the night itself, not of the day before it', () => {
    expect(watchedWith({ socPct: 29.9, floorPct: 30 }, -5).text.isUnder).toBe(true);
    expect(watchedWith({ socPct: 29.9, floorPct: 30 }, 5).text.isUnder).toBe(false);
    expect(watchedWith({ socPct: 30.1, floorPct: 30 }, -5).text.isUnder).toBe(false);
  });

  it('S10: holds the bank to the floor that can be reached in the cold, as the projection does', () => {
    expect(watchedWith({ socPct: 33, floorPct: 34 }, -5).text).toMatchObject({ isUnder: true, floorPct: 34 });
    expect(watchedWith({ socPct: 35, floorPct: 34 }, -5).text.isUnder).toBe(false);
  });

  it('names the end of a night that is still to come, and no other', () => {
    expect(watchedWith({}, 5).text.comingNightEndMs).toBe(NOON_MS + 19 * HOUR_MS);
    expect(watchedWith({}, -5).text.comingNightEndMs).toBeNull();
  });
});
