import type { EpochMs } from '../../shared/units.ts';

const SOLAR_CONSTANT_WM2 = 1366.1;
const YEAR_MS = 365.2425 * 86_400_000;
/** A first of January, 00:00 UTC. */
const NEW_YEAR_MS = Date.UTC(2000, 0, 1);

/**
 * Irradiance outside the air on a plane that faces the sun, W/m2: 1321 in July to 1413 in January. Good to 0.2 W/m2.
 * @source J. W. Spencer, "Fourier series representation of the position of the sun", Search 2 (1971), 172; the constant from ASTM E490-00
 */
export function extraterrestrialWm2(tMs: EpochMs): number {
  const b = (2 * Math.PI * (tMs - NEW_YEAR_MS)) / YEAR_MS;
  return SOLAR_CONSTANT_WM2 * (1.00011 + 0.034221 * Math.cos(b) + 0.00128 * Math.sin(b) + 0.000719 * Math.cos(2 * b) + 0.000077 * Math.sin(2 * b));
}
