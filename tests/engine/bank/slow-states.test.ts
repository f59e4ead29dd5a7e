import { describe, expect, it } from 'vitest';
import { bankAt, learnedCapacityAh } from '../../../engine/bank/bank.ts';
import { initialState } from '../../../engine/state.ts';
import { bankView } from '../../../engine/views.ts';
import { type BenchBank, benchBank, chargeFully, runBank } from '../../helpers/engine-bank.ts';
import { HOUR_MS, NOON_MS, rigOf } from '../../helpers/engine-rig.ts';

const rig = rigOf();
const errorOf = (bench: BenchBank): number => (bankAt(bench.state, bench.tMs, rig, null)?.socFrac ?? Number.NaN) - bench.trueFrac;
const viewOf = (bench: BenchBank) => bankView({ ...initialState(rig, NOON_MS), bank: bench.state }, rig, bench.tMs, bankAt(bench.state, bench.tMs, rig, null));
const remarksOf = (bench: BenchBank): string => viewOf(bench).remarks.join('; ');

interface Fault {
  /** Current that the shunt does not see, A (negative: a load). */
  readonly unseenA?: number;
  /** Share of the charge put in that never comes out. */
  readonly lossFrac?: number;
  /** True capacity over the rated one. */
  readonly capacity?: number;
}

/** Days of discharge to a depth and back to full, of a bank with one fault. The bench counts its truth as a share of the rated capacity. */
function days(count: number, fault: Fault, depths: readonly number[] = [0.45]): BenchBank {
  const { unseenA = 0, lossFrac = 0, capacity = 1 } = fault;
  const bench = benchBank(NOON_MS, 0.9);
  chargeFully(bench, rig);
  const atLimit = { voltageV: rig.cells * 3.5 };
  const run = (minutes: number, trueA: number, over: { voltageV?: number } = {}): void => {
    const seenA = (trueA > 0 ? trueA / (1 - lossFrac) : trueA) - unseenA;
    // In a smaller bank the same charge moves the state of charge further.
    runBank(bench, rig, minutes, trueA / capacity, { errorA: seenA - trueA / capacity, ...over });
  };
  for (let day = 0; day < count; day++) {
    const startMs = bench.tMs;
    const depth = depths[day % depths.length] as number;
    while (bench.trueFrac > 1 - depth) run(10, -9);
    run(60, -0.5);
    while (bench.trueFrac < 0.98) run(10, Math.min(30, (0.99 - bench.trueFrac) * rig.capacityAh * 6));
    // At the limit the current dies away with what is missing.
    while (bench.trueFrac < 0.9995) run(2, Math.max(0.3, 4 * (1 - bench.trueFrac) * rig.capacityAh), atLimit);
    while (bench.tMs < startMs + 23 * HOUR_MS) run(10, 0, { voltageV: rig.cells * 3.46 });
  }
  return bench;
}

const beliefOf = (bench: BenchBank) => {
  const { belief } = bench.state;
  if (!belief) throw new Error('the bank was counted for days and has no belief');
  return belief;
};

describe('S08 slow faults of the count, told apart by what their error grows with', () => {
  it('a load wired past the shunt is learned as a current, named and shown', () => {
    const bench = days(6, { unseenA: -0.5 });
    const belief = beliefOf(bench);
    expect(belief.offsetA).toBeLessThan(-0.2);
    expect(Math.abs(belief.scaleFrac)).toBeLessThan(0.005);
    expect(remarksOf(bench)).toContain('a load wired past it');
    expect(viewOf(bench).unseenA).toBeLessThan(-0.3);
    expect(viewOf(bench).unseenA).toBeGreaterThan(-0.7);
    expect(viewOf(bench).lastClosing?.errorAh).toBeLessThan(0);
  });

  it('charge lost on the way in is learned as a loss once busy and idle days differ, within its bounds, and blamed on nothing else', () => {
    const bench = days(12, { lossFrac: 0.006 }, [0.08, 0.85]);
    const belief = beliefOf(bench);
    expect(belief.lossFrac).toBeGreaterThan(0.002);
    expect(belief.lossFrac).toBeLessThanOrEqual(0.01);
    expect(Math.abs(belief.offsetA)).toBeLessThan(0.06);
    expect(remarksOf(bench)).not.toContain('past it');
  });

  it('a smaller capacity is not learned from full charges alone, which cannot tell it', () => {
    const bench = days(6, { capacity: 0.9 });
    expect(learnedCapacityAh(bench.state, rig)).toBeCloseTo(rig.capacityAh, -1);
    expect(Math.abs(beliefOf(bench).offsetA)).toBeLessThan(0.08);
    expect(remarksOf(bench)).not.toContain('past it');
  });

  it('is learned once the bank was down to where its voltage tells, and then counted and shown', () => {
    const bench = days(3, { capacity: 0.85 }, [0.96]);
    expect(learnedCapacityAh(bench.state, rig) / rig.capacityAh).toBeGreaterThan(0.82);
    expect(learnedCapacityAh(bench.state, rig) / rig.capacityAh).toBeLessThan(0.9);
    expect(remarksOf(bench)).toMatch(/the bank holds about 1[67]\d Ah by the shunt, of 200 Ah rated/);
    const capacity = 0.85;
    runBank(bench, rig, 5 * 60, -9 / capacity, { errorA: -9 + 9 / capacity });
    expect(Math.abs(errorOf(bench))).toBeLessThan(0.02);
  });
});
