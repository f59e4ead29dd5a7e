const RAD = Math.PI / 180;

/**
 * Global irradiance on the level under a clear sky, W/m2, from the sun's elevation alone; 0 with the sun at or under the horizon.
 * The yardstick that the clear sky in use is measured against.
 * @param apparentElevationDeg  of the sun's centre, with refraction
 * @source B. Haurwitz, "Insolation in relation to cloudiness and cloud density" (1945), doi 10.1175/1520-0469(1945)002<0154:IIRTCA>2.0.CO;2
 */
export function haurwitzGlobalWm2(apparentElevationDeg: number): number {
  const cosZenith = Math.sin(apparentElevationDeg * RAD);
  return cosZenith > 0 ? 1098 * cosZenith * Math.exp(-0.059 / cosZenith) : 0;
}
