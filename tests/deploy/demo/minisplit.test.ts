import { expect, test } from 'vitest';
import { type MinisplitInput, restedMinisplit, stepMinisplit } from '../../../deploy/demo/minisplit.ts';

const STEP_S = 10;
const cool: MinisplitInput = { mode: 'cool', setpointC: 24, cabinC: 24, outsideC: 31, outsideHumidityPct: 50, powered: true };

/** Runs a mini-split in a plain box of air that gains `gainW` and gives its power in every step. */
function run(input: MinisplitInput, startC: number, gainW: number, hours: number) {
  let unit = restedMinisplit,
    cabinC = startC;
  return Array.from({ length: (hours * 3600) / STEP_S }, () => {
    const { unit: next, flow } = stepMinisplit(unit, { ...input, cabinC }, STEP_S);
    unit = next;
    cabinC += ((flow.heatW + gainW) * STEP_S) / 900_000;
    return { ...flow, cabinC };
  });
}

test('a mini-split reaches its setpoint at high power and holds it on little', () => {
  const steps = run(cool, 31, 900, 6);
  expect(Math.max(...steps.slice(0, 180).map((s) => s.powerW))).toBeGreaterThan(700);
  const late = steps.slice(-360);
  for (const step of late) expect(Math.abs(step.cabinC - 24)).toBeLessThan(1);
  expect(late.reduce((sum, s) => sum + s.powerW, 0) / late.length).toBeLessThan(350);
});

test('under its least speed a mini-split cycles, and rests before it starts again', () => {
  const running = run(cool, 24, 250, 6).map((s) => s.powerW >= 140);
  const starts = running.flatMap((on, i) => (on && i > 0 && !running[i - 1] ? [i] : []));
  const stops = running.flatMap((on, i) => (!on && i > 0 && running[i - 1] ? [i] : []));
  expect(starts.length).toBeGreaterThan(3);
  for (const stop of stops) {
    const next = starts.find((start) => start > stop);
    if (next !== undefined) expect((next - stop) * STEP_S).toBeGreaterThanOrEqual(200);
  }
});

test('in damp cold a heating mini-split stops to defrost, in dry cold it does not', () => {
  const heat = { ...cool, mode: 'heat', setpointC: 20, outsideC: 1 } as const;
  expect(run({ ...heat, outsideHumidityPct: 95 }, 18, -1200, 8).some((s) => s.powerW > 0 && s.heatW < 0)).toBe(true);
  expect(run({ ...heat, outsideHumidityPct: 40 }, 18, -1200, 8).some((s) => s.heatW < 0)).toBe(false);
});

test('a mini-split without power does nothing', () => {
  expect(stepMinisplit({ ...restedMinisplit, speed: 0.5 }, { ...cool, cabinC: 30, powered: false }, STEP_S).flow).toEqual({ powerW: 0, heatW: 0, coilC: null });
});
