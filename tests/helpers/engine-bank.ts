import { type BankState, initialBank, seeCurrent, seeVoltage, stepBank } from '../../engine/bank/bank.ts';
import { chemistryOf } from '../../engine/bank/chemistry.ts';
import { openCircuit, typicalCellOhm } from '../../engine/bank/curve.ts';
import type { RigModel } from '../../engine/types.ts';
import type { EpochMs } from '../../shared/units.ts';

/** A bank with a known charge, and what a shunt says of it. */
export interface BenchBank {
  state: BankState;
  tMs: EpochMs;
  /** Charge truly in the bank, share of the capacity. */
  trueFrac: number;
}

/** Voltage over the whole bank at a state of charge under a current. */
export const terminalV = (rig: RigModel, socFrac: number, currentA: number): number =>
  rig.cells * (openCircuit(chemistryOf(rig), socFrac).voltageV + currentA * typicalCellOhm(chemistryOf(rig), rig.capacityAh));

export const benchBank = (tMs: EpochMs, trueFrac: number): BenchBank => ({ state: initialBank, tMs, trueFrac });

/** Runs the bank for some minutes in steps of 10 s. `errorA` is what the shunt adds to the true current; `voltageV` overrules the modelled voltage. */
export function runBank(
  bench: BenchBank,
  rig: RigModel,
  minutes: number,
  currentA: number,
  { errorA = 0, voltageV, see = (state) => state }: { errorA?: number; voltageV?: number; see?: (state: BankState, tMs: EpochMs) => BankState } = {},
): void {
  for (let i = 0; i < minutes * 6; i++) {
    bench.tMs += 10_000;
    bench.trueFrac += (currentA * 10) / 3600 / rig.capacityAh;
    bench.state = seeVoltage(bench.state, bench.tMs, voltageV ?? terminalV(rig, bench.trueFrac, currentA));
    bench.state = seeCurrent(bench.state, bench.tMs, currentA + errorA, rig, 60_000, null);
    bench.state = stepBank(see(bench.state, bench.tMs), bench.tMs, rig);
  }
}

/** Charges to full and holds it there as an absorbing charger does: its limit (3.5 V a LiFePO4 cell), the current falling away. */
export function chargeFully(bench: BenchBank, rig: RigModel): void {
  while (bench.trueFrac < 0.99) runBank(bench, rig, 10, Math.min(0.3 * rig.capacityAh, ((0.995 - bench.trueFrac) * rig.capacityAh * 60) / 10));
  for (const share of [1 / 30, 1 / 60, 1 / 120, 1 / 300])
    runBank(bench, rig, 10, share * rig.capacityAh * 0.1, { voltageV: rig.cells * chemistryOf(rig).acceptance.limitV });
  bench.trueFrac = 1;
}
