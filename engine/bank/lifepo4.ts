import { clamp } from '../numeric/series.ts';
import type { FullSign } from './full-charge.ts';

/**
 * Open-circuit voltage of one LiFePO4 cell against state of charge, V: the mean of the charge and discharge branches at room temperature.
 * Rounded values of our own reading of several published slow-charge curves; cells differ by some 10 mV, the branches by 5 to 25 mV.
 */
const CURVE: readonly (readonly [socFrac: number, voltageV: number])[] = [
  [0, 2.5],
  [0.01, 2.7],
  [0.02, 2.83],
  [0.03, 2.93],
  [0.05, 3.06],
  [0.07, 3.13],
  [0.1, 3.195],
  [0.15, 3.22],
  [0.2, 3.242],
  [0.25, 3.26],
  [0.3, 3.274],
  [0.35, 3.283],
  [0.4, 3.289],
  [0.5, 3.296],
  [0.6, 3.303],
  [0.65, 3.308],
  [0.7, 3.316],
  [0.75, 3.325],
  [0.8, 3.33],
  [0.85, 3.333],
  [0.9, 3.336],
  [0.95, 3.34],
  [0.97, 3.346],
  [0.98, 3.355],
  [0.99, 3.385],
  [0.995, 3.415],
  [1, 3.45],
  [1.05, 3.8],
];

/** Voltage of a rested cell and its slope per unit of state of charge, at a state of charge (held to what the curve covers). */
export function openCircuit(socFrac: number): { voltageV: number; slopeV: number } {
  const soc = clamp(socFrac, 0, 1.05);
  let i = 1;
  while (i < CURVE.length - 1 && (CURVE[i] as readonly [number, number])[0] < soc) i++;
  const [s0, v0] = CURVE[i - 1] as readonly [number, number];
  const [s1, v1] = CURVE[i] as readonly [number, number];
  const slopeV = (v1 - v0) / (s1 - s0);
  return { voltageV: v0 + (soc - s0) * slopeV, slopeV };
}

/** The state of charge at which a rested cell has a voltage. */
export function socAtVoltage(voltageV: number): number {
  for (let i = 1; i < CURVE.length; i++) {
    const [s0, v0] = CURVE[i - 1] as readonly [number, number];
    const [s1, v1] = CURVE[i] as readonly [number, number];
    if (voltageV <= v1) return clamp(s0 + ((voltageV - v0) / (v1 - v0)) * (s1 - s0), 0, 1);
  }
  return 1;
}

/** Resistance assumed of a cell of a capacity with its share of cabling, before load steps have told, ohm. */
export const typicalCellOhm = (capacityAh: number): number => 0.4 / capacityAh;

/** Voltage over a cell that only a full bank, or a bank being charged hard, shows. */
export const FULL_CELL_V = 3.43;

/** The signs of a full charge: refusing nearly everything, or a current dying away at a voltage that leaves no doubt. */
export const FULL_SIGNS: readonly FullSign[] = [
  { restedV: 3.5, tailPerH: 1 / 10, holdMs: 5 * 60_000 },
  { restedV: FULL_CELL_V, tailPerH: 1 / 25, holdMs: 10 * 60_000 },
];
