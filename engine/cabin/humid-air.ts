import psychrolib from 'psychrolib';

psychrolib.SetUnitSystem(psychrolib.SI);

/** Water in air, g/m3, at an air temperature in deg C and a relative humidity in percent (0 to 100). */
export function waterGm3(airC: number, relativeHumidityPct: number): number {
  const pressurePa = psychrolib.GetVapPresFromRelHum(airC, Math.min(1, Math.max(0, relativeHumidityPct / 100)));
  return (2.16679 * pressurePa) / (airC + 273.15);
}

/** Dew point, deg C, of air at a temperature in deg C and a relative humidity in percent; null under 1 %, where a sensor says nothing. */
export function dewPointC(airC: number, relativeHumidityPct: number): number | null {
  return relativeHumidityPct < 1 ? null : psychrolib.GetTDewPointFromRelHum(airC, Math.min(1, relativeHumidityPct / 100));
}
