/** What a panel turns into power. */
export interface DcInputs {
  /** Power at 1000 W/m2 and 25 deg C, W. */
  readonly ratedW: number;
  /** Irradiance that reaches the cells, W/m2. */
  readonly irradianceWm2: number;
  readonly cellC: number;
  /** Change per kelvin over 25 deg C: some -0.0045 to -0.003 for silicon. */
  readonly perK: number;
}

/** A usual silicon panel. */
export const SILICON_PER_K = -0.0035;

/**
 * Power of a panel, W; wiring, controller and dirt are in the learned gain.
 * @source A. P. Dobos, "PVWatts Version 5 Manual" (2014), doi 10.2172/1158421
 */
export const dcPowerW = ({ ratedW, irradianceWm2, cellC, perK }: DcInputs): number =>
  Math.max(0, ((ratedW * irradianceWm2) / 1000) * (1 + perK * (cellC - 25)));
