const RAD = Math.PI / 180;

/**
 * Global irradiance on the level under a clear sky, W/m2; 0 with the sun at or under the horizon.
 * Known error some 3 to 7 % without a gain for the place, which is learned.
 * @param elevationDeg  of the sun's centre
 * @source B. Haurwitz, "Insolation in relation to cloudiness and cloud density" (1945), doi 10.1175/1520-0469(1945)002<0154:IIRTCA>2.0.CO;2
 */
export function clearSkyGhiWm2(elevationDeg: number): number {
  const cosZenith = Math.sin(elevationDeg * RAD);
  return cosZenith > 0 ? 1098 * cosZenith * Math.exp(-0.059 / cosZenith) : 0;
}

/**
 * Share of the clear-sky global irradiance that comes straight from the sun: falls with the air mass.
 * A fit to clear-sky tables by eye, good to 0.05; only tilted panels use it.
 */
export function clearSkyBeamShare(elevationDeg: number): number {
  const sine = Math.sin(Math.max(0, elevationDeg) * RAD);
  return sine > 0 ? 0.88 * Math.exp(-0.06 / Math.max(0.03, sine)) : 0;
}
