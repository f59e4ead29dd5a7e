import { describe, expect, it } from 'vitest';
import { hasData } from '../../deploy/reference/figure.ts';
import { coolingSeason, heatingSeason } from '../../deploy/reference/house/bins.ts';
import { houseNights } from '../../deploy/reference/house/nights.ts';
import { house } from '../../deploy/reference/house.ts';

describe.skipIf(!hasData())('the nights of a measured house with a variable-speed heat pump', () => {
  it('are foreseen within the bars, and better than by a ridge on the same weather', async () => {
    const figures = await house.measure();
    expect(figures).toHaveLength(4);
    expect(figures.filter(({ figure, bar }) => !(figure <= bar))).toEqual([]);
  });

  it('are read whole: every night of the winter, and all of the summer that was recorded', () => {
    const winter = heatingSeason();
    expect(winter.bins.filter((bin) => bin.outsideC !== null && bin.minisplitW !== null).length).toBeGreaterThan(0.99 * winter.bins.length);
    expect(coolingSeason().bins.length).toBe(184 * 144);
  });

  it('are foreseen from the evening alone: what comes after it changes nothing', () => {
    const winter = heatingSeason();
    const nights = houseNights({ ...winter, bins: winter.bins.slice(0, 144 * 14) });
    const hotter = winter.bins.slice(0, 144 * 14).map((bin) => (bin.tMs < (nights.at(-1)?.startMs ?? 0) ? bin : { ...bin, outsideC: 30, panelsW: 900 }));
    expect(houseNights({ ...winter, bins: hotter }).at(-1)?.membersWh).toEqual(nights.at(-1)?.membersWh);
  });
});
