import { type Direction, directionOf, type Sky } from './sky.ts';

/** One group of panels as it really is (the rig file says the same in its own words). */
interface Group {
  readonly watts: number;
  readonly tiltDeg: number;
  readonly normal: Direction;
  readonly heatingKm2PerW: number;
}

const group = (watts: number, tiltDeg: number, azimuthDeg: number, heatingKm2PerW: number): Group => ({
  watts,
  tiltDeg,
  normal: directionOf(azimuthDeg, 90 - tiltDeg),
  heatingKm2PerW,
});

/** Glued to the roof, and hinged ones propped up towards the south, which stay cooler. */
const GROUPS = [group(400, 0, 0, 0.041), group(1200, 55, 180, 0.029)];
const GROUND_SHARE = 0.17;
/** Wiring, controller and spread between panels. */
const CHAIN_FRAC = 0.89;
/** The charge controller wakes at this power, W. */
const WAKE_W = 4;

/** What the panels could give into the bank's bus now, W, if the bank took it all. `cleanFrac`: share that dust lets through. */
export function panelsAvailableW(sky: Sky, airTempC: number, cleanFrac: number): number {
  if (sky.globalWm2 <= 0) return 0;
  let sum = 0;
  for (const { watts, tiltDeg, normal, heatingKm2PerW } of GROUPS) {
    const cosine = sky.sun.east * normal.east + sky.sun.north * normal.north + sky.sun.up * normal.up;
    // Glass mirrors a flat beam away: one-parameter form, nothing left at grazing light.
    const glass = cosine > 0.06 ? Math.max(0, 1 - 0.055 * (1 / cosine - 1)) : 0;
    const lifted = Math.cos((tiltDeg * Math.PI) / 180);
    const planeWm2 = sky.beamWm2 * Math.max(0, cosine) * glass + (sky.diffuseWm2 * 0.95 * (1 + lifted)) / 2 + (sky.globalWm2 * GROUND_SHARE * (1 - lifted)) / 2;
    const cellTempC = airTempC + planeWm2 * heatingKm2PerW;
    sum += watts * (planeWm2 / 1000) * (1 - 0.0037 * (cellTempC - 25));
  }
  const power = sum * CHAIN_FRAC * cleanFrac;
  return power < WAKE_W ? 0 : power;
}
