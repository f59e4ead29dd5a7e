import type { SkyIrradiance } from './ineichen.ts';

const RAD = Math.PI / 180;
/** Under this sine of elevation, clearness and beam say nothing. */
const LEAST_SINE = 0.065;
/** Beam under this elevation is taken for none, degrees. */
const LEAST_BEAM_DEG = 3;

/**
 * Splits a global irradiance of any sky, clear or cloudy, into beam and diffuse by its clearness. Single hours scatter by some 10 %.
 * The yardstick for the split in use, which knows that the sky is clear.
 * @source D. G. Erbs, S. A. Klein, J. A. Duffie, "Estimation of the diffuse radiation fraction for hourly, daily and monthly-average global radiation" (1982), doi 10.1016/0038-092X(82)90302-4
 */
export function erbsSplit(input: { readonly globalWm2: number; readonly elevationDeg: number; readonly extraterrestrialWm2: number }): SkyIrradiance {
  const { globalWm2, elevationDeg, extraterrestrialWm2 } = input;
  const sine = Math.sin(elevationDeg * RAD);
  const kt = Math.min(1, Math.max(0, globalWm2) / (extraterrestrialWm2 * Math.max(LEAST_SINE, sine)));
  const middle = 0.9511 - 0.1604 * kt + 4.388 * kt ** 2 - 16.638 * kt ** 3 + 12.336 * kt ** 4;
  const share = kt <= 0.22 ? 1 - 0.09 * kt : kt <= 0.8 ? middle : 0.165;
  if (elevationDeg < LEAST_BEAM_DEG) return { globalWm2, beamNormalWm2: 0, diffuseWm2: Math.max(0, globalWm2) };
  const diffuseWm2 = share * globalWm2;
  return { globalWm2, beamNormalWm2: Math.max(0, (globalWm2 - diffuseWm2) / sine), diffuseWm2 };
}
