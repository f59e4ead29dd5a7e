import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { type BankState, bankAt, initialBank, seeCurrent, seeVoltage, stepBank } from '../../../engine/bank/bank.ts';
import { type RigModel, STEP_MS } from '../../../engine/types.ts';
import { DATA } from '../figure.ts';

/** One row of a measured cell: charge positive, `countedAh` since the start. */
export interface TraceRow {
  readonly tMs: number;
  readonly currentA: number;
  readonly voltageV: number;
  readonly countedAh: number;
}

/** A single LiFePO4 cell of 1.05 Ah under drive profiles, 11 h, with three full charges and two empties. */
export function dynamicTrace(): TraceRow[] {
  const lines = readFileSync(join(DATA, 'battery/lfp_a123_dynamic_1s.csv'), 'utf8').trim().split('\n').slice(1);
  return lines.map((line) => {
    const [s = 0, currentA = 0, voltageV = 0, countedAh = 0] = line.split(',').map(Number);
    return { tMs: 1000 * s, currentA, voltageV, countedAh };
  });
}

/** When the cell was full: held at its highest voltage until the current had died away. */
export const FULL_MS = [6_314_000, 19_747_000, 31_057_000] as const;

const at = (rows: readonly TraceRow[], tMs: number): number => rows.find((row) => row.tMs >= tMs)?.countedAh ?? Number.NaN;

/** The true state of charge: counted by the laboratory's shunt between the full charges, what did not close shared out evenly over the time. */
export function truthOf(rows: readonly TraceRow[], capacityAh: number): (row: TraceRow) => number {
  const fulls = FULL_MS.map((tMs) => ({ tMs, ah: at(rows, tMs) }));
  return (row) => {
    const i = Math.max(
      0,
      fulls.findLastIndex((full) => full.tMs <= row.tMs),
    );
    const [a, b] = [fulls[i] as { tMs: number; ah: number }, fulls[i + 1]];
    const share = b ? Math.max(0, (row.tMs - a.tMs) / (b.tMs - a.tMs)) : 0;
    return 1 + (row.countedAh - a.ah - share * ((b?.ah ?? a.ah) - a.ah)) / capacityAh;
  };
}

/** One moment of a run over the trace. */
export interface TraceStep {
  readonly row: TraceRow;
  readonly socFrac: number;
  readonly sd: number;
  readonly bank: BankState;
}

/** The engine's own estimate over the trace, on its 10 s grid; `startFrac` puts a wrong belief in at the start, with its usual doubt of a first one. */
export function runTrace(rows: readonly TraceRow[], rig: RigModel, startFrac: number | null): TraceStep[] {
  const steps: TraceStep[] = [];
  let bank = initialBank;
  let dueMs = STEP_MS;
  for (const row of rows) {
    bank = seeCurrent(seeVoltage(bank, row.tMs, row.voltageV), row.tMs, row.currentA, rig, HOLD_MS, null);
    if (row.tMs < dueMs) continue;
    dueMs = row.tMs + STEP_MS;
    const first = bank.belief === null;
    bank = stepBank(bank, row.tMs, rig);
    if (first && bank.belief && startFrac !== null) {
      const [, ...rest] = bank.belief.cov;
      bank = { ...bank, belief: { ...bank.belief, socFrac: startFrac, cov: [START_SD ** 2, ...rest] } };
    }
    const believed = bankAt(bank, row.tMs, rig, null);
    if (believed) steps.push({ row, socFrac: believed.socFrac, sd: believed.sd, bank });
  }
  return steps;
}

const START_SD = 0.25;
/** At rest the laboratory noted a reading every five minutes. */
const HOLD_MS = 6 * 60_000;
