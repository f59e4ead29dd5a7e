import { z } from 'zod';
import { saturationHpa, type Weather } from './weather.ts';

/** The cabin as two bodies: its air with the light furniture, and its walls, floor and stores. */
export const CabinState = z.strictObject({ airC: z.number(), massC: z.number(), vapourHpa: z.number() });
export type CabinState = z.infer<typeof CabinState>;

/** What enters the cabin in a step, W of heat (negative: taken out); water in g/h. */
export interface CabinInput {
  readonly weather: Weather;
  readonly globalWm2: number;
  readonly heatW: number;
  readonly waterGph: number;
  /** Dew point of the mini-split's coil while it cools, deg C; null otherwise. */
  readonly coilC: number | null;
  /** A door or roof vent open: 0..1. */
  readonly openFrac: number;
}

const AIR_JK = 330_000;
const MASS_JK = 1_750_000;
const AIR_MASS_WK = 120;
/** Windows, roof vents and leaks; and the insulated shell. */
const LEAK_WK = 18;
const SHELL_WK = 26;
const OPEN_WK = 70;
const WINDOW_M2 = 0.5;
const ROOF_M2 = 0.6;

/** One step of the cabin. Vapour pressures in hPa: leaks and vents exchange with outside air, the person adds, a cold coil takes. */
export function stepCabin(cabin: CabinState, input: CabinInput, dtS: number): CabinState {
  const { weather, globalWm2 } = input;
  const leakWK = LEAK_WK + OPEN_WK * input.openFrac;
  const toMassW = AIR_MASS_WK * (cabin.airC - cabin.massC);
  const airW = input.heatW + 0.6 * WINDOW_M2 * globalWm2 + leakWK * (weather.airTempC - cabin.airC) - toMassW;
  // Under a clear night sky the shell radiates to something colder than the air.
  const shellC = weather.airTempC - 3 * (1 - weather.coverFrac) * (globalWm2 > 0 ? 0 : 1);
  const massW = toMassW + 0.4 * WINDOW_M2 * globalWm2 + ROOF_M2 * 0.6 * globalWm2 + SHELL_WK * (shellC - cabin.massC);
  const outsideHpa = saturationHpa(weather.dewPointC);
  // 22 m3 of air: about 16 g of water make one hPa; furnishings buffer as much again.
  const exchanged = (leakWK / 33 / 22) * (outsideHpa - cabin.vapourHpa);
  const condensed = input.coilC === null ? 0 : 5 * Math.max(0, cabin.vapourHpa - saturationHpa(input.coilC));
  const vapour = cabin.vapourHpa + ((exchanged * 60 - condensed + input.waterGph / 32) * dtS) / 3600;
  const airC = cabin.airC + (airW * dtS) / AIR_JK;
  return { airC, massC: cabin.massC + (massW * dtS) / MASS_JK, vapourHpa: Math.min(Math.max(1, vapour), saturationHpa(airC)) };
}

/** Relative humidity of the cabin, percent. */
export const humidityPct = (cabin: CabinState): number => (100 * cabin.vapourHpa) / saturationHpa(cabin.airC);
