import { describe, expect, it } from 'vitest';
import { type ComfortInput, cabinPath, nightComfort } from '../../../engine/advice/comfort.ts';
import { believedCabin } from '../../../engine/cabin/two-state.ts';
import type { Learned, Snapshot } from '../../../engine/types.ts';
import { rigOf } from '../../helpers/engine-rig.ts';
import { SUNSET_MS, snapshotOf } from '../../helpers/engine-snapshot.ts';

const STEPS = 72;
const cabin = { ...believedCabin(900, 1200), offsetC: 0.4 };
const learned = { cabin, minisplit: null } as unknown as Learned;
const span = {
  startMs: SUNSET_MS,
  stepMs: 600_000,
  steps: STEPS,
  nightStartMs: SUNSET_MS,
  sunsetMs: SUNSET_MS,
  sunriseMs: SUNSET_MS + 60 * 600_000,
  endMs: SUNSET_MS + STEPS * 600_000,
};
const fill = (value: number): Float64Array => new Float64Array(STEPS).fill(value);
const input = (outsideC: number, over: Partial<Snapshot> = {}): ComfortInput => ({
  snapshot: snapshotOf(rigOf(), learned, { outsideC, outsideLagC: outsideC, cabinC: 24.4, ...over }),
  span,
  course: { outsideC: fill(outsideC), outsideLagC: fill(outsideC), waterGm3: fill(11), clearW: fill(0), plannedW: fill(0), hasWeather: true },
  panelsW: fill(0),
});

describe('what a night will be like in the cabin', () => {
  it('a setpoint that the unit can hold is held, where the sensor reads it', () => {
    expect(nightComfort(input(31), 24).cabinC).toBe(24.4);
    expect(nightComfort(input(31), 22).cabinC).toBeCloseTo(22.4, 0);
  });

  it('outside cool, the cabin floats under its setpoint', () => {
    const { cabinC } = nightComfort(input(12), 26);
    expect(cabinC).toBeLessThan(22);
    expect(cabinC).toBeGreaterThan(13);
  });

  it('hotter than the unit can hold, it stays over', () => {
    expect(nightComfort(input(48), 20).cabinC).toBeGreaterThan(22);
  });

  it('the cooler setpoint has the higher relative humidity, the air the less water', () => {
    const [cool, warm] = [nightComfort(input(31), 21), nightComfort(input(31), 26)];
    expect(cool.cabinRhPct).toBeGreaterThan(warm.cabinRhPct ?? 100);
    expect(cool.cabinRhPct).toBeLessThanOrEqual(100);
    // 11 g/m3 at 24.4 deg C.
    expect(Math.abs((nightComfort(input(31), 24).cabinRhPct ?? 0) - 49)).toBeLessThan(2);
  });

  it('is not said where it is not known', () => {
    expect(nightComfort(input(31, { cabinC: null }), 24)).toEqual({ cabinC: null, cabinRhPct: null });
    expect(nightComfort(input(31, { learned: null }), 24)).toEqual({ cabinC: null, cabinRhPct: null });
    const dry = input(31);
    expect(nightComfort({ ...dry, course: { ...dry.course, waterGm3: fill(0) } }, 24).cabinRhPct).toBeNull();
  });

  it('switched off for hours, it drifts and comes back', () => {
    const off = (k: number): number => (k >= 20 && k < 32 ? 0 : 1);
    const path = cabinPath(input(33), () => 24, off);
    expect(path?.[19]).toBeCloseTo(24.4, 3);
    expect(path?.[31]).toBeGreaterThan(26);
    expect(path?.[50]).toBeCloseTo(24.4, 1);
  });
});
