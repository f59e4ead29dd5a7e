import type { RigModel } from '../../engine/types.ts';
import { dynamicTrace, FULL_MS, runTrace, type TraceRow, type TraceStep, truthOf } from './bank/trace.ts';
import type { Figure, Part } from './figure.ts';

/** The cell measured: its capacity from full to empty in this very trace. */
const CAPACITY_AH = 1.05;

const RIG: RigModel = {
  rigId: 'cell',
  chemistry: 'LiFePO4',
  cells: 1,
  capacityAh: CAPACITY_AH,
  floorFrac: 0.2,
  inverter: null,
  panels: [],
  minisplit: null,
  place: null,
  everyS: new Map(),
  acSide: new Set(),
  chargers: [],
  loads: [],
  timeZone: 'UTC',
};

/** State of charge of a measured cell by the engine's own estimate, from the voltage's start and from wrong ones. */
export const bank: Part = {
  name: 'bank',
  measure: async () => {
    const rows = dynamicTrace();
    return [null, 0.9, 0.1].flatMap((startFrac) => figuresOf(rows, startFrac));
  },
};

const points = (frac: number): number => 100 * Math.abs(frac);

function figuresOf(rows: readonly TraceRow[], startFrac: number | null): Figure[] {
  const truth = truthOf(rows, CAPACITY_AH);
  const steps = runTrace(rows, RIG, startFrac);
  const from = startFrac === null ? 'started from the voltage' : `started at ${points(startFrac)} %`;
  const start = startFrac ?? steps[0]?.socFrac ?? 0.5;
  const counted = (row: TraceRow): number => start + (row.countedAh - (rows[0]?.countedAh ?? 0)) / CAPACITY_AH;
  const errors = steps.filter(({ row }) => row.tMs > FULL_MS[0] + 600_000).map((step) => ({ error: points(step.socFrac - truth(step.row)), step }));
  const mean = (values: readonly number[]): number => values.reduce((sum, v) => sum + v, 0) / values.length;
  return [
    {
      name: `what was missing at the next two full charges, ${from}`,
      figure: Math.max(...FULL_MS.slice(1).map((tMs) => closing(steps, tMs))),
      bar: 1,
      unit: 'points',
      baselines: { 'counting from the same start': Math.max(...FULL_MS.slice(1).map((tMs) => points(counted(nearest(rows, tMs)) - 1))) },
    },
    {
      name: `mean error after the first full charge, ${from}`,
      figure: mean(errors.map(({ error }) => error)),
      bar: 1,
      unit: 'points',
      baselines: { 'counting from the same start': mean(errors.map(({ step }) => points(counted(step.row) - truth(step.row)))) },
    },
  ];
}

const nearest = (rows: readonly TraceRow[], tMs: number): TraceRow => rows.find((row) => row.tMs >= tMs) as TraceRow;

/** How far the estimate was from full, points, before it was told of this full charge; a full charge that was never noticed counts as 100. */
function closing(steps: readonly TraceStep[], fullMs: number): number {
  const told = steps.at(-1)?.bank.closings.find((c) => Math.abs(c.tMs - fullMs) < 3_600_000);
  return told ? points(told.errorAh / CAPACITY_AH) : 100;
}
