import { describe, expect, it } from 'vitest';
import { settingHabits } from '../../../engine/cabin/setting-habits.ts';
import { BIN_MS } from '../../../engine/types.ts';
import { DAY_MS, HOUR_MS } from '../../helpers/engine-rig.ts';

const DAYS = 10;
const START_MS = Date.UTC(2025, 6, 1);
const NOW_MS = START_MS + DAYS * DAY_MS - 4 * HOUR_MS;
/** From 20:00 to 08:00. */
const night = { startMs: NOW_MS, stepMs: BIN_MS, steps: 72 };
const settings = (atHour: (hour: number, day: number) => number | null) => ({
  startMs: START_MS,
  setpointsC: Array.from({ length: DAYS * 144 - 24 }, (_, i) => atHour((i % 144) / 6, Math.floor(i / 144))),
});
/** What is expected an hour of the night, deg C. */
const meanAt = (habits: ReturnType<typeof settingHabits>, k: number): number => {
  if (!habits) throw new Error('no habits');
  const weight = habits.weights.reduce((a, b) => a + b, 0);
  return habits.traces.reduce((sum, trace, d) => sum + (trace[k] ?? 0) * (habits.weights[d] ?? 0), 0) / weight;
};

describe('where a thermostat may be set in the night to come', () => {
  it('is where it is now, when nobody touches it', () => {
    expect(
      settingHabits(
        settings(() => 24),
        24,
        night,
      ),
    ).toBeNull();
    // A sensor in degrees Fahrenheit wavers.
    expect(
      settingHabits(
        settings((hour) => 24 + 0.1 * (hour % 2)),
        24,
        night,
      ),
    ).toBeNull();
  });

  it('is cooler from bedtime on, when it was so every night, and as now until then', () => {
    const habits = settingHabits(
      settings((hour) => (hour >= 22 || hour < 7 ? 21 : 25)),
      26,
      night,
    );
    expect(meanAt(habits, 6)).toBeCloseTo(26, 6);
    expect(meanAt(habits, 18)).toBeCloseTo(21, 6);
    expect(meanAt(habits, 71)).toBeCloseTo(25, 6);
  });

  it('lies between both on nights that differ', () => {
    const habits = settingHabits(
      settings((hour, day) => ((hour >= 22 || hour < 7) && day % 2 === 0 ? 21 : 25)),
      25,
      night,
    );
    expect(meanAt(habits, 18)).toBeGreaterThan(22);
    expect(meanAt(habits, 18)).toBeLessThan(24);
    expect(new Set(habits?.traces.map((trace) => trace[18]))).toEqual(new Set([21, 25]));
  });

  it('is not told by days that were not seen', () => {
    const habits = settingHabits(
      settings((hour, day) => (day < 7 ? null : hour >= 22 || hour < 7 ? 21 : 25)),
      25,
      night,
    );
    expect(habits?.traces).toHaveLength(2);
    expect(
      settingHabits(
        settings(() => null),
        25,
        night,
      ),
    ).toBeNull();
  });
});
