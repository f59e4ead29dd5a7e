/** What warms and cools a panel. */
export interface CellInputs {
  readonly airC: number;
  /** Irradiance on the panel, W/m2. */
  readonly irradianceWm2: number;
  readonly windMs: number;
  /** Heat lost at rest, W/(m2 K), and with every m/s of wind. */
  readonly lossWm2K: number;
  readonly windLossWm2K: number;
  /** Share of the light that becomes heat: what is absorbed less what leaves as power. */
  readonly heatShare: number;
}

/** A panel bonded or screwed flat to a roof, wind unknown: 45 to 50 K over the air in full sun. */
export const ON_A_ROOF = { windMs: 0, lossWm2K: 15, windLossWm2K: 0, heatShare: 0.9 * (1 - 0.2) } as const;

/**
 * Temperature of the cells in steady sun, deg C.
 * @source D. Faiman, "Assessing the outdoor operating temperature of photovoltaic modules" (2008), doi 10.1002/pip.813
 */
export const cellTemperatureC = ({ airC, irradianceWm2, windMs, lossWm2K, windLossWm2K, heatShare }: CellInputs): number =>
  airC + (heatShare * irradianceWm2) / (lossWm2K + windLossWm2K * windMs);
