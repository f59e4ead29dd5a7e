import type { BankView } from '../../../../shared/schema/flows.ts';

/** A stretch of power, W as the load draws it. */
export interface LoadSpan {
  readonly startMs: number;
  readonly endMs: number;
  readonly powerW: number;
}

const HOUR_MS = 3_600_000;

/** Energy of loads between two moments, Wh as they draw it. */
export const plannedWh = (loads: readonly LoadSpan[], fromMs: number, toMs: number): number =>
  loads.reduce((sum, { startMs, endMs, powerW }) => sum + (powerW * Math.max(0, Math.min(endMs, toMs) - Math.max(startMs, fromMs))) / HOUR_MS, 0);

/** Mean power of loads over a step, W as they draw it. */
export const meanPlannedW = (loads: readonly LoadSpan[], tMs: number, stepMs: number): number => (plannedWh(loads, tMs, tMs + stepMs) * HOUR_MS) / stepMs;

/**
 * What a planned watt takes at the bus, from what the engine counted for the same loads: 1 where nothing is planned or counted, else between 1 and 1.5, which no
 * inverter in order passes.
 */
export function busShare(countedWh: number, drawnWh: number): number {
  return drawnWh < 5 || countedWh <= 0 ? 1 : Math.min(1.5, Math.max(1, countedWh / drawnWh));
}

/** Points of state of charge that what is left of a load takes; null while the bank is not known. `share`: what a watt takes at the bus. */
export function pointsOf(load: LoadSpan, nowMs: number, bank: Pick<BankView, 'capacityAh' | 'voltageV'> | null, share: number): number | null {
  const bankWh = (bank?.capacityAh ?? 0) * (bank?.voltageV ?? 0);
  return bankWh > 0 ? (100 * share * plannedWh([load], Math.max(nowMs, load.startMs), load.endMs)) / bankWh : null;
}
