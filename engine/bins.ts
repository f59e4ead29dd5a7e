import type { EpochMs } from '../shared/units.ts';
import { waterGm3 } from './cabin/humid-air.ts';
import { BIN_MS, type Bin, STEP_MS } from './types.ts';

/** Quantities summed over the steps of a bin. */
export const BIN_FIELDS = [
  'voltageV',
  'bankW',
  'panelsW',
  'chargersW',
  'loadsW',
  'minisplitW',
  'standingW',
  'inverterW',
  'unaccountedW',
  'surplusW',
  'outsideC',
  'cabinC',
  'rhPct',
  'setpointC',
  'clearW',
] as const;
export type BinField = (typeof BIN_FIELDS)[number];
export type StepValues = Readonly<Record<BinField, number | null>> & {
  readonly modeIndex: number | null;
  readonly curtailed: boolean;
  readonly socFrac: number | null;
};

/** Sums of the bin under way. */
export interface BinSums {
  readonly startMs: EpochMs;
  readonly sum: readonly number[];
  readonly count: readonly number[];
  readonly curtailed: number;
  readonly steps: number;
  readonly modeIndex: number | null;
  readonly socFrac: number | null;
}

export const emptySums = (startMs: EpochMs): BinSums => ({
  startMs,
  sum: BIN_FIELDS.map(() => 0),
  count: BIN_FIELDS.map(() => 0),
  curtailed: 0,
  steps: 0,
  modeIndex: null,
  socFrac: null,
});

/** Adds one step's values. */
export function addStep(sums: BinSums, v: StepValues): BinSums {
  const sum = [...sums.sum];
  const count = [...sums.count];
  for (let i = 0; i < BIN_FIELDS.length; i++) {
    const value = v[BIN_FIELDS[i] as BinField];
    if (value === null) continue;
    sum[i] = (sum[i] as number) + value;
    count[i] = (count[i] as number) + 1;
  }
  return {
    startMs: sums.startMs,
    sum,
    count,
    curtailed: sums.curtailed + (v.curtailed ? 1 : 0),
    steps: sums.steps + 1,
    modeIndex: v.modeIndex ?? sums.modeIndex,
    socFrac: v.socFrac ?? sums.socFrac,
  };
}

const round = (value: number | null, digits: number): number | null => (value === null ? null : Math.round(value * 10 ** digits) / 10 ** digits);

/** Closes a bin. */
export function closeBin(sums: BinSums): Bin {
  const mean = (field: BinField): number | null => {
    const i = BIN_FIELDS.indexOf(field);
    const count = sums.count[i] as number;
    return count > 0 ? (sums.sum[i] as number) / count : null;
  };
  const cabinC = mean('cabinC');
  const rhPct = mean('rhPct');
  const panelsW = mean('panelsW');
  const clearW = mean('clearW');
  const curtailedFrac = sums.steps > 0 ? sums.curtailed / sums.steps : 0;
  return {
    tMs: sums.startMs,
    coverage: Math.min(1, (sums.count[BIN_FIELDS.indexOf('bankW')] as number) / (BIN_MS / STEP_MS)),
    socFrac: round(sums.socFrac, 5),
    voltageV: round(mean('voltageV'), 3),
    bankW: round(mean('bankW'), 1),
    panelsW: round(panelsW, 1),
    chargersW: round(mean('chargersW'), 1) ?? 0,
    loadsW: round(mean('loadsW'), 1),
    minisplitW: round(mean('minisplitW'), 1),
    standingW: round(mean('standingW'), 1),
    inverterW: round(mean('inverterW'), 1),
    unaccountedW: round(mean('unaccountedW'), 1),
    surplusW: round(mean('surplusW'), 1),
    outsideC: round(mean('outsideC'), 3),
    cabinC: round(cabinC, 3),
    waterGm3: cabinC !== null && rhPct !== null ? round(waterGm3(cabinC, rhPct), 3) : null,
    setpointC: round(mean('setpointC'), 2),
    modeIndex: sums.modeIndex,
    panelIndex: clearW !== null && clearW > 15 && panelsW !== null && curtailedFrac < 0.2 ? round(Math.min(1.5, panelsW / clearW), 4) : null,
    curtailedFrac: round(curtailedFrac, 2) ?? 0,
  };
}
