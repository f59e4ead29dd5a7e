import { describe, expect, it } from 'vitest';
import { judgedLight } from '../../../engine/panels/beam.ts';
import { sectorOf, standsBefore } from '../../../engine/panels/horizon.ts';
import { learnHorizon } from '../../../engine/panels/learn-horizon.ts';
import { learnPanels } from '../../../engine/panels/learn-panels.ts';
import { FIRST_DAY_MS, type Moment, panelDays, STOP, unsteady } from '../../helpers/panel-days.ts';

const learned = (days: number, share: (moment: Moment) => number, stop = STOP) => {
  const bins = panelDays(days, share);
  return learnHorizon(judgedLight(bins, stop, learnPanels(bins, stop)));
};
/** A hill of 18 degrees over the whole east leaves a twelfth of the light. */
const canyon = ({ elevationDeg, azimuthDeg }: Moment): number => (azimuthDeg < 120 && elevationDeg < 18 ? 0.1 : 0.85);
const heightsEast = (horizon: readonly (number | null)[]) => horizon.slice(sectorOf(60), sectorOf(90)).filter((h) => h !== null);

describe('the horizon of this stop', () => {
  it('H11: shows within days where the first sun comes late', () => {
    const horizon = learned(4, canyon);
    expect(Math.max(...heightsEast(horizon))).toBeGreaterThan(16);
    expect(Math.max(...heightsEast(horizon))).toBeLessThan(20);
    expect(horizon.slice(sectorOf(120)).every((h) => h === null)).toBe(true);
    expect(standsBefore(horizon, { elevationDeg: 15, azimuthDeg: 75 })).toBe(true);
    expect(standsBefore(horizon, { elevationDeg: 20.5, azimuthDeg: 75 })).toBe(false);
    expect(standsBefore(horizon, { elevationDeg: 15, azimuthDeg: 285 })).toBe(false);
  });

  it('shows behind cloudy days too', () => {
    const horizon = learned(10, (moment) => canyon(moment) * (moment.day % 3 === 0 ? 1 - 0.8 * unsteady(moment.day * 91 + Math.floor(moment.hour * 6)) : 1));
    expect(Math.max(...heightsEast(horizon))).toBeGreaterThan(16);
    expect(Math.max(...heightsEast(horizon))).toBeLessThan(20);
  });

  it('stays unknown under open sky, cloud, and fog that lifts when it likes', () => {
    const nothing = (horizon: readonly (number | null)[]) => horizon.every((h) => h === null);
    expect(nothing(learned(10, () => 0.85))).toBe(true);
    expect(nothing(learned(10, ({ day, hour }) => 0.85 * (1 - 0.85 * unsteady(day * 91 + Math.floor(hour * 6)))))).toBe(true);
    expect(nothing(learned(12, ({ day, hour }) => 0.85 * Math.min(1, Math.max(0.25, 0.25 + (hour - 6.5 - 3 * unsteady(day)) / 2))))).toBe(true);
  });

  it('is not told from one morning, and is dropped on moving', () => {
    expect(heightsEast(learned(1, canyon))).toEqual([]);
    expect(heightsEast(learned(6, canyon, { ...STOP, sinceMs: FIRST_DAY_MS + 5 * 86_400_000 }))).toEqual([]);
  });
});
