import { describe, expect, it } from 'vitest';
import { bankAt } from '../../../engine/bank/bank.ts';
import { type ChemistryName, chemistryOf } from '../../../engine/bank/chemistry.ts';
import { openCircuit } from '../../../engine/bank/curve.ts';
import { project } from '../../../engine/project.ts';
import { type BenchBank, benchBank, chargeFully, runBank } from '../../helpers/engine-bank.ts';
import { NOON_MS, rigOf } from '../../helpers/engine-rig.ts';
import { lived, snapshotOf } from '../../helpers/engine-snapshot.ts';

const RIGS: readonly (readonly [ChemistryName, number, number])[] = [
  ['AGM', 12, 0.94],
  ['NMC', 7, 0.998],
];

describe.each(RIGS)('a bank of %s, %i elements in series', (chemistry, cells, keptFrac) => {
  const rig = rigOf({ chemistry, cells, capacityAh: 200, floorFrac: 0.5 });
  const errorOf = (bench: BenchBank): number => (bankAt(bench.state, bench.tMs, rig, null)?.socFrac ?? Number.NaN) - bench.trueFrac;
  const sdOf = (bench: BenchBank): number => bankAt(bench.state, bench.tMs, rig, null)?.sd ?? Number.NaN;
  /** Charges to `upTo` with what the battery loses on the way: the shunt sees more than stays. Under charge the voltage says little of rest. */
  const charge = (bench: BenchBank, upTo: number): void => {
    const currentA = 20;
    const riseV = chemistry === 'AGM' ? 0.12 : 0;
    while (bench.trueFrac < upTo) {
      const { voltageV } = openCircuit(chemistryOf(rig), bench.trueFrac);
      const terminalV = rig.cells * Math.min(chemistryOf(rig).acceptance.limitV - 0.02, voltageV + riseV + 0.002);
      runBank(bench, rig, 10, currentA, { errorA: currentA * (1 / keptFrac - 1), voltageV: terminalV });
    }
  };

  it('starts from its own rested voltage, anchors at its own full charge, and is counted from there', () => {
    const bench = benchBank(NOON_MS, 0.7);
    runBank(bench, rig, 30, -2);
    expect(Math.abs(errorOf(bench))).toBeLessThan(0.06);
    charge(bench, 0.97);
    expect(bench.state.anchoredMs).toBeNull();
    chargeFully(bench, rig);
    expect(bench.state.anchoredMs).not.toBeNull();
    expect(Math.abs(errorOf(bench))).toBeLessThan(0.015);
    runBank(bench, rig, 8 * 60, -8);
    expect(Math.abs(errorOf(bench))).toBeLessThan(0.02);
    expect(Math.abs(errorOf(bench))).toBeLessThan(2 * sdOf(bench));
  });

  it('learns what its charge loses from how its days close', () => {
    const bench = benchBank(NOON_MS, 0.9);
    chargeFully(bench, rig);
    const errors: number[] = [];
    for (let day = 0; day < 6; day++) {
      runBank(bench, rig, 12 * 60, -7);
      charge(bench, 0.96);
      errors.push(Math.abs(errorOf(bench)));
      chargeFully(bench, rig);
    }
    expect(bench.state.closings).toHaveLength(6);
    expect(errors.at(-1)).toBeLessThan(0.012);
    expect(bench.state.belief?.lossFrac).toBeGreaterThan((1 - keptFrac) / 2);
    expect(bench.state.belief?.lossFrac).toBeLessThan(1.5 * (1 - keptFrac));
  });

  it('is projected through the night', () => {
    const { learned, bins } = lived(rig, { days: 8 });
    const said = project(snapshotOf(rig, learned, { socFrac: 0.9 }), { loads: [] }, 5, 100, bins, { forScreens: true });
    const { minisplit, standing, inverter, panels } = said.energyWh;
    expect(said.sunrise?.p50Pct).toBeLessThan(90);
    expect(said.sunrise?.p5Pct).toBeGreaterThan(0);
    // What is drawn by sunrise fits the energy of this bank, whatever its voltage.
    const until = said.curve.filter(({ tMs }) => tMs <= (said.sunrise?.tMs ?? 0));
    const drawnWh = until.reduce((sum, p) => sum + (p.minisplitW + p.standingW + p.inverterW) / 6, 0);
    expect((90 - (said.sunrise?.p50Pct ?? 0)) / 100).toBeCloseTo(drawnWh / (rig.capacityAh * cells * chemistryOf(rig).meanV), 1);
    expect([minisplit, standing, inverter, panels].every(Number.isFinite)).toBe(true);
  });
});

it('a lead-acid bank is not taken for full by the voltage that weak sun lifts it to', () => {
  const rig = rigOf({ chemistry: 'AGM', cells: 6 });
  const bench = benchBank(NOON_MS, 0.6);
  runBank(bench, rig, 60, -2);
  runBank(bench, rig, 180, 3, { voltageV: 6 * 2.25 });
  expect(bench.state.anchoredMs).toBeNull();
  expect(Math.abs((bankAt(bench.state, bench.tMs, rig, null)?.socFrac ?? 0) - bench.trueFrac)).toBeLessThan(0.08);
});
