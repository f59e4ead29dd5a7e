const RAD = Math.PI / 180;
/** Refractive index of glass, its extinction per m, and its thickness, m. */
const INDEX = 1.526;
const EXTINCTION_PER_M = 4;
const THICKNESS_M = 0.002;

/** Share of light that passes the pane at an angle, before it is set against straight on. */
function passes(incidenceDeg: number): number {
  const inside = Math.asin(Math.sin(incidenceDeg * RAD) / INDEX);
  const absorbed = Math.exp((-EXTINCTION_PER_M * THICKNESS_M) / Math.cos(inside));
  if (incidenceDeg < 1e-3) return absorbed * (1 - ((INDEX - 1) / (INDEX + 1)) ** 2);
  const minus = inside - incidenceDeg * RAD;
  const plus = inside + incidenceDeg * RAD;
  return absorbed * (1 - 0.5 * ((Math.sin(minus) / Math.sin(plus)) ** 2 + (Math.tan(minus) / Math.tan(plus)) ** 2));
}

const STRAIGHT = passes(0);

/**
 * What the pane lets through of a beam against straight on: 1 at 0 degrees, 0.99 at 45, 0.89 at 67.5, 0 from 90 on.
 * @source W. De Soto, S. A. Klein, W. A. Beckman, "Improvement and validation of a model for photovoltaic array performance" (2006), doi 10.1016/j.solener.2005.06.010
 */
export const beamTransmission = (incidenceDeg: number): number => (incidenceDeg >= 90 ? 0 : Math.max(0, passes(incidenceDeg) / STRAIGHT));

/** The same for light from all over the sky: the mean of the above over a hemisphere. */
export const DIFFUSE_TRANSMISSION = 0.95;
