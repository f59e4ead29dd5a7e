import { airPressurePa, relativeAirMass } from './air-mass.ts';

const RAD = Math.PI / 180;

/** Irradiance on the level, W/m2; `beamNormalWm2` on a plane that faces the sun. global = beamNormal x sine of elevation + diffuse. */
export interface SkyIrradiance {
  readonly globalWm2: number;
  readonly beamNormalWm2: number;
  readonly diffuseWm2: number;
}

/** What the clear-sky model needs. */
export interface ClearSkyInputs {
  /** Elevation of the sun's centre with refraction, degrees. */
  readonly apparentElevationDeg: number;
  /** Outside the air, on a plane facing the sun, W/m2. */
  readonly extraterrestrialWm2: number;
  /** Linke turbidity at air mass 2: 2 clean and dry, 3 usual, 5 humid or hazy. */
  readonly turbidity: number;
  /** Height above the sea, m. */
  readonly altitudeM: number;
}

export const NO_LIGHT: SkyIrradiance = { globalWm2: 0, beamNormalWm2: 0, diffuseWm2: 0 };

/**
 * Irradiance under a clear sky; nothing with the sun at or under the horizon.
 * Reads low where the sun is low; `clearSkyAt` mends that.
 * @source P. Ineichen, R. Perez, "A new airmass independent formulation for the Linke turbidity coefficient" (2002), doi 10.1016/S0038-092X(02)00045-2
 */
export function ineichenClearSky({ apparentElevationDeg, extraterrestrialWm2, turbidity, altitudeM }: ClearSkyInputs): SkyIrradiance {
  const sine = Math.sin(apparentElevationDeg * RAD);
  if (!(sine > 0)) return NO_LIGHT;
  const airMass = (relativeAirMass(apparentElevationDeg) * airPressurePa(altitudeM)) / airPressurePa(0);
  const fh1 = Math.exp(-altitudeM / 8000);
  const fh2 = Math.exp(-altitudeM / 1250);
  const loss = (3.92e-5 * altitudeM + 0.0387) * airMass * (fh1 + fh2 * (turbidity - 1));
  const globalWm2 = (5.09e-5 * altitudeM + 0.868) * extraterrestrialWm2 * sine * Math.exp(-loss);
  const beam = (0.664 + 0.163 / fh1) * extraterrestrialWm2 * Math.exp(-0.09 * airMass * (turbidity - 1));
  // The beam is never more than what the global leaves after the least diffuse light there is.
  const most = (globalWm2 * (1 - (0.1 - 0.2 * Math.exp(-turbidity)) / (0.1 + 0.882 / fh1))) / sine;
  const beamNormalWm2 = Math.min(beam, most);
  return { globalWm2, beamNormalWm2, diffuseWm2: globalWm2 - beamNormalWm2 * sine };
}
