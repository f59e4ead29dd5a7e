import { clamp } from '../numeric/series.ts';
import type { Chemistry, Points } from './chemistry.ts';

/** Voltage of a rested cell and its slope per unit of state of charge, at a state of charge (held to what the curve covers). */
export function openCircuit({ curve }: Chemistry, socFrac: number): { voltageV: number; slopeV: number } {
  const soc = clamp(socFrac, 0, lastOf(curve)[0]);
  let i = 1;
  while (i < curve.length - 1 && (curve[i] as Points[number])[0] < soc) i++;
  const [s0, v0] = curve[i - 1] as Points[number];
  const [s1, v1] = curve[i] as Points[number];
  const slopeV = (v1 - v0) / (s1 - s0);
  return { voltageV: v0 + (soc - s0) * slopeV, slopeV };
}

/** The state of charge at which a rested cell has a voltage. */
export function socAtVoltage({ curve }: Chemistry, voltageV: number): number {
  for (let i = 1; i < curve.length; i++) {
    const [s0, v0] = curve[i - 1] as Points[number];
    const [s1, v1] = curve[i] as Points[number];
    if (voltageV <= v1) return clamp(s0 + ((voltageV - v0) / (v1 - v0)) * (s1 - s0), 0, 1);
  }
  return 1;
}

/** Resistance assumed of a cell of a capacity with its share of cabling, before load steps have told, ohm. */
export const typicalCellOhm = (c: Chemistry, capacityAh: number): number => c.ohmAh / capacityAh;

const lastOf = (points: Points): Points[number] => points[points.length - 1] as Points[number];
