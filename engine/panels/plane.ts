import type { SkyIrradiance } from '../sun/ineichen.ts';
import { beamTransmission, DIFFUSE_TRANSMISSION } from './glass.ts';

const RAD = Math.PI / 180;
/** Share of light that the ground throws back. */
const ALBEDO = 0.2;
/** Sine of one degree. */
const LEAST_SINE = 0.01745;

/** The way a panel or the sun's ray faces: unit vector to the east, north and up. */
export type Direction = readonly [east: number, north: number, up: number];

/** Towards an elevation and an azimuth from north, clockwise. */
export function towards(elevationDeg: number, azimuthDeg: number): Direction {
  const level = Math.cos(elevationDeg * RAD);
  return [level * Math.sin(azimuthDeg * RAD), level * Math.cos(azimuthDeg * RAD), Math.sin(elevationDeg * RAD)];
}

/**
 * Share of a uniform sky that a tilted panel sees.
 * @source B. Y. H. Liu, R. C. Jordan, "The interrelationship and characteristic distribution of direct, diffuse and total solar radiation" (1960), doi 10.1016/0038-092X(60)90062-1
 */
export const skyShare = (cosTilt: number): number => (1 + cosTilt) / 2;

/** What one panel gets. */
export interface PlaneInputs {
  readonly sky: SkyIrradiance;
  readonly sun: Direction;
  readonly panel: Direction;
  readonly extraterrestrialWm2: number;
  /** False where something stands before the sun. */
  readonly beamReaches: boolean;
}

/**
 * Irradiance that reaches the cells of a panel, W/m2, behind its glass. Diffuse light from around the sun goes with the beam, the rest comes
 * from a uniform sky; the ground adds a little to tilted panels.
 * @source J. E. Hay, J. A. Davies, "Calculation of the solar radiation incident on an inclined surface" (1980); the share around the sun is that of the beam outside the air
 */
export function planeIrradianceWm2({ sky, sun, panel, extraterrestrialWm2, beamReaches }: PlaneInputs): number {
  const seen = skyShare(panel[2]);
  const aroundSun = sky.beamNormalWm2 / extraterrestrialWm2;
  const uniform = DIFFUSE_TRANSMISSION * (sky.diffuseWm2 * (1 - aroundSun) * seen + sky.globalWm2 * ALBEDO * (1 - seen));
  const cosIncidence = Math.min(1, sun[0] * panel[0] + sun[1] * panel[1] + sun[2] * panel[2]);
  if (!beamReaches || cosIncidence <= 0) return uniform;
  // Near the horizon the light around the sun would grow without bound on a panel that faces it.
  const direct = sky.beamNormalWm2 + (sky.diffuseWm2 * aroundSun) / Math.max(LEAST_SINE, sun[2]);
  return uniform + direct * cosIncidence * beamTransmission(Math.acos(cosIncidence) / RAD);
}
