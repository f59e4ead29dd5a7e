/** Share of the charge that a LiFePO4 cell gives at a temperature: one small cell of which supplier's figures are known, so a wide guess. */
const USABLE: readonly (readonly [tempC: number, frac: number])[] = [
  [-20, 0.44],
  [-10, 0.66],
  [0, 0.8],
  [25, 1],
];

/**
 * Share of the capacity that can be drawn at a cell temperature, deg C; 1 where the temperature is not known. The charge is still in the cells:
 * this lessens the energy down to the floor, never the state of charge.
 */
export function usableFrac(tempC: number | null): number {
  if (tempC === null) return 1;
  const above = USABLE.findIndex(([t]) => t >= tempC);
  if (above === -1) return 1;
  const [t1, f1] = USABLE[above] as readonly [number, number];
  const [t0, f0] = USABLE[above - 1] ?? [t1 - 1, f1];
  return f0 + ((tempC - t0) / (t1 - t0)) * (f1 - f0);
}

/**
 * The lowest state of charge that can be reached at a cell temperature: what the cold keeps back lies at the bottom, so the energy to a floor
 * beneath it ends here.
 */
export const coldFloorFrac = (floorFrac: number, tempC: number | null): number => Math.max(floorFrac, 1 - usableFrac(tempC));

/** Below this a LiFePO4 cell must not be charged, deg C; the core of a cell is colder than its case, where the sensor sits. */
const BLOCKED_BELOW_C = 2;

/** Charging is probably blocked by cold: the protection board of a LiFePO4 bank refuses it near 0 deg C. Unknown temperature: not blocked. */
export const chargeBlocked = (tempC: number | null): boolean => tempC !== null && tempC < BLOCKED_BELOW_C;
