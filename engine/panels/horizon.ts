/** Width of a direction, degrees; the horizon has one height for each. */
export const SECTOR_DEG = 10;
export const SECTORS = 360 / SECTOR_DEG;

/** Height of what stands before the sun in each direction from north, clockwise, degrees; null where nothing is known to. */
export type Horizon = readonly (number | null)[];

/** The direction an azimuth falls in. */
export const sectorOf = (azimuthDeg: number): number => Math.floor((((azimuthDeg % 360) + 360) % 360) / SECTOR_DEG) % SECTORS;

/** True where something is known to stand before the sun. */
export const standsBefore = (horizon: Horizon, sun: { readonly elevationDeg: number; readonly azimuthDeg: number }): boolean =>
  sun.elevationDeg < (horizon[sectorOf(sun.azimuthDeg)] ?? -90);
