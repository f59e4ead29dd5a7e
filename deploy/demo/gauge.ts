import { z } from 'zod';

/** The shunt's own idea of the state of charge. */
export const GaugeState = z.strictObject({ socFrac: z.number(), fullS: z.number(), warmC: z.number() });
export type GaugeState = z.infer<typeof GaugeState>;

/** The shunt reads this much too high, as a share and in A (positive: charging): what makes its state of charge drift. */
export const SHUNT_GAIN = 1.004;
export const SHUNT_OFFSET_A = 0.07;
const ASSUMED_AH = 280;
const FULL_V = 27.9;
const FULL_TAIL_A = 9;
const FULL_HOLD_S = 180;

/** One step of the devices that remember: the shunt counts what it measures and takes a full bank for 100 %; the outside thermometer's housing follows the sun. */
export function stepGauge(gauge: GaugeState, flow: { currentA: number; voltageV: number }, globalWm2: number, dtS: number): GaugeState {
  const countedA = flow.currentA * SHUNT_GAIN + SHUNT_OFFSET_A;
  const full = flow.voltageV > FULL_V && flow.currentA > 0 && flow.currentA < FULL_TAIL_A;
  const fullS = full ? gauge.fullS + dtS : 0;
  const socFrac = fullS >= FULL_HOLD_S ? 1 : Math.max(0, Math.min(1, gauge.socFrac + (countedA * dtS) / 3600 / ASSUMED_AH));
  return { socFrac, fullS, warmC: gauge.warmC + ((globalWm2 * 0.0065 - gauge.warmC) * dtS) / 1500 };
}
