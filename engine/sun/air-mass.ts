const RAD = Math.PI / 180;

/**
 * How much more air a sunbeam crosses than from overhead; 1 at the zenith, some 38 on the horizon, which it is held to from below.
 * @param apparentElevationDeg  of the sun's centre, with refraction
 * @source F. Kasten, A. T. Young, "Revised optical air mass tables and approximation formula" (1989), doi 10.1364/AO.28.004735
 */
export function relativeAirMass(apparentElevationDeg: number): number {
  const elevationDeg = Math.max(0, apparentElevationDeg);
  return 1 / (Math.sin(elevationDeg * RAD) + 0.50572 * (elevationDeg + 6.07995) ** -1.6364);
}

/**
 * Mean pressure of the air at a height above the sea, Pa.
 * @param altitudeM  -500 to 11,000 m
 * @source ISO 2533:1975, "Standard atmosphere"
 */
export const airPressurePa = (altitudeM: number): number => 101_325 * (1 - 2.25577e-5 * altitudeM) ** 5.25588;
