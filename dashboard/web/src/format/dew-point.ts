/**
 * Dew point of moist air by the Magnus form, degrees Celsius; within 0.4 K of tables from -40 to 50 deg C.
 * `airTempC` in degrees Celsius, `humidityPct` above 0 to 100. Null when the humidity is not above zero.
 * @source Alduchov, Eskridge, 1996, "Improved Magnus form approximation of saturation vapor pressure", DOI 10.1175/1520-0450(1996)035<0601:IMFAOS>2.0.CO;2, eq. 21
 */
export function dewPointC(airTempC: number, humidityPct: number): number | null {
  if (!(humidityPct > 0)) return null;
  const gamma = Math.log(Math.min(humidityPct, 100) / 100) + (17.625 * airTempC) / (243.04 + airTempC);
  return (243.04 * gamma) / (17.625 - gamma);
}
