import { describe, expect, it } from 'vitest';
import { bankAt, deviceLowerFrac, seeDevice } from '../../../engine/bank/bank.ts';
import { resyncRemark } from '../../../engine/bank/resync.ts';
import { initialState } from '../../../engine/state.ts';
import { bankView } from '../../../engine/views.ts';
import { type BenchBank, benchBank, chargeFully, runBank } from '../../helpers/engine-bank.ts';
import { NOON_MS, rigOf } from '../../helpers/engine-rig.ts';

const rig = rigOf();
const anchored = (): BenchBank => {
  const bench = benchBank(NOON_MS, 0.8);
  chargeFully(bench, rig);
  return bench;
};
/** Runs with a device that says `deviceAt` of the true state of charge, in steps of one percent. */
const runWith = (bench: BenchBank, minutes: number, currentA: number, deviceAt: (trueFrac: number) => number): void =>
  runBank(bench, rig, minutes, currentA, { see: (state, tMs) => seeDevice(state, tMs, Math.round(100 * deviceAt(bench.trueFrac)) / 100) });
const viewOf = (bench: BenchBank) => bankView({ ...initialState(rig, NOON_MS), bank: bench.state }, rig, bench.tMs, bankAt(bench.state, bench.tMs, rig, null));

describe("S04 a jump of the device's own value", () => {
  it('right after charging starts is not believed, and is named with its time', () => {
    const bench = anchored();
    runWith(bench, 12 * 60, -8.6, (frac) => frac);
    const before = bankAt(bench.state, bench.tMs, rig, null)?.socFrac ?? 0;
    const jumpMs = bench.tMs + 10_000;
    runWith(bench, 30, 5, () => 1);
    const after = bankAt(bench.state, bench.tMs, rig, null)?.socFrac ?? 0;
    expect(Math.abs(after - bench.trueFrac)).toBeLessThan(0.01);
    expect(after - before).toBeLessThan(0.02);
    expect(viewOf(bench).resync).toEqual({ tMs: jumpMs, fromPct: Math.round(100 * before), toPct: 100, agrees: false });
    expect(viewOf(bench).remarks.join()).toMatch(/the device's own value jumped from 48 to 100 % at \d\d:\d\d; not believed/);
  });

  it('in several steps within minutes is one', () => {
    const bench = anchored();
    runWith(bench, 10 * 60, -8, (frac) => frac);
    for (const said of [0.7, 0.8, 1]) runWith(bench, 1, 0, () => said);
    expect(bench.state.resync).toMatchObject({ fromFrac: 0.6, toFrac: 1 });
  });

  it('to where counting stood is said too, and its new level is heard from then on', () => {
    const bench = anchored();
    runWith(bench, 5 * 60, -8, (frac) => frac - 0.12);
    runWith(bench, 60, -8, (frac) => frac);
    expect(bench.state.resync?.agrees).toBe(true);
    expect(viewOf(bench).remarks.join()).toContain('to where counting stood');
    expect(Math.abs(bench.state.belief?.deviceBiasFrac ?? 1)).toBeLessThan(0.02);
  });

  it('is none where charge explains it: a hard charge, a coarse or drifting device, a pause in which nobody counted', () => {
    const bench = anchored();
    runWith(bench, 5 * 60, -20, (frac) => 1.1 * frac - 0.1);
    runWith(bench, 60, 60, (frac) => 1.1 * frac - 0.1);
    expect(bench.state.resync).toBeNull();
    bench.tMs += 5 * 3_600_000;
    bench.trueFrac -= 0.3;
    runWith(bench, 10, -5, (frac) => 1.1 * frac - 0.1);
    expect(bench.state.resync).toBeNull();
    expect(viewOf(bench).resync).toBeNull();
  });
});

describe('S05 device and count disagree', () => {
  it('both are shown, the device with its age, and they are not averaged', () => {
    const bench = anchored();
    runWith(bench, 10 * 60, -8, (frac) => Math.min(1, frac + 0.15));
    const saidMs = bench.tMs;
    runBank(bench, rig, 5, -8);
    const view = viewOf(bench);
    expect(view.deviceMs).toBe(saidMs);
    expect(view.deviceSocPct).toBeCloseTo(75, 0);
    expect(Math.abs((view.socPct ?? 0) - 100 * bench.trueFrac)).toBeLessThan(1);
    expect(view.remarks.join()).toContain('the device says 75 %, counting says 60 %');
    runBank(bench, rig, 30, -8);
    expect(viewOf(bench).remarks.join()).not.toContain('the device says');
  });

  it('the lower counts against the floor where the count cannot rule it out, and not where it is sure of itself', () => {
    const bench = anchored();
    runWith(bench, 10 * 60, -8, (frac) => frac - 0.15);
    const { tMs, state } = bench;
    expect(deviceLowerFrac(state, tMs, { socFrac: 0.6, sd: 0.005 })).toBe(0);
    expect(deviceLowerFrac(state, tMs, { socFrac: 0.6, sd: 0.08 })).toBeCloseTo(0.15, 6);
    expect(deviceLowerFrac(state, tMs, { socFrac: 0.3, sd: 0.08 })).toBe(0);
    expect(deviceLowerFrac(state, tMs + 3_600_000, { socFrac: 0.6, sd: 0.08 })).toBe(0);
  });
});

it('is put in words with the time of day', () => {
  expect(resyncRemark({ tMs: 0, fromFrac: 0.48, toFrac: 1, agrees: false }, () => '10:20')).toBe(
    "the device's own value jumped from 48 to 100 % at 10:20; not believed",
  );
});
