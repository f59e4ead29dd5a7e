import type { EpochMs } from '../../shared/units.ts';
import type { Maybe } from '../numeric/series.ts';
import { type ClearSky, clearSkyAt } from '../sun/clear-sky.ts';
import type { Place, RigModel } from '../types.ts';
import { cellTemperatureC, ON_A_ROOF } from './cell-temperature.ts';
import { dcPowerW, SILICON_PER_K } from './dc-power.ts';
import { type Horizon, standsBefore } from './horizon.ts';
import { type Direction, planeIrradianceWm2, towards } from './plane.ts';

/** How the rig leans where it is parked: the tangents of its lean down towards the east and the north. Level is [0, 0]. */
export type Lean = readonly [east: number, north: number];

/** What may be known beside the rig and the place. Where it is left out: 20 deg C outside, the usual haze, level ground, a flat horizon. */
export interface Surroundings {
  readonly airC?: Maybe;
  readonly turbidity?: number;
  readonly lean?: Lean;
  readonly horizon?: Horizon | null;
}

/** Rated power of all panels, W. */
export const ratedPanelsW = ({ panels }: Pick<RigModel, 'panels'>): number => panels.reduce((sum, panel) => sum + panel.ratedW, 0);

const USUAL_AIR_C = 20;
const LEVEL: Lean = [0, 0];

/** The way a panel faces, on a roof that leans. */
function facing(tiltDeg: number, azimuthDeg: number, lean: Lean): Direction {
  const [east, north, up] = towards(90 - tiltDeg, azimuthDeg);
  const e = east + lean[0] * up;
  const n = north + lean[1] * up;
  const length = Math.hypot(e, n, up);
  return [e / length, n / length, up / length];
}

/**
 * Power that all panels give under a sky, W: the irradiance behind the glass, the heat of the cells, the rated power.
 * Wiring, controller, dirt, haze and height are in the learned gain.
 * @param headingDeg  of the vehicle's nose from north, clockwise
 */
export function panelsUnderW(panels: RigModel['panels'], sky: ClearSky, headingDeg: number, { airC, lean, horizon }: Omit<Surroundings, 'turbidity'>): number {
  if (sky.irradiance.globalWm2 <= 0) return 0;
  const sun = towards(sky.elevationDeg, sky.azimuthDeg);
  const beamReaches = !(horizon && standsBefore(horizon, sky));
  let powerW = 0;
  for (const { ratedW, tiltDeg, azimuthDeg } of panels) {
    const panel = facing(tiltDeg, azimuthDeg + headingDeg, lean ?? LEVEL);
    const irradianceWm2 = planeIrradianceWm2({ sky: sky.irradiance, sun, panel, extraterrestrialWm2: sky.extraterrestrialWm2, beamReaches });
    const cellC = cellTemperatureC({ airC: airC ?? USUAL_AIR_C, irradianceWm2, ...ON_A_ROOF });
    powerW += dcPowerW({ ratedW, irradianceWm2, cellC, perK: SILICON_PER_K });
  }
  return powerW;
}

/** Power that all panels would give under a clear sky, W. */
export const clearSkyPanelsW = (rig: Pick<RigModel, 'panels'>, place: Place, tMs: EpochMs, headingDeg: number, surroundings: Surroundings = {}): number =>
  panelsUnderW(rig.panels, clearSkyAt(place, tMs, surroundings.turbidity), headingDeg, surroundings);

/** As `Surroundings`, with the outside temperature step by step. */
export interface SeriesSurroundings extends Omit<Surroundings, 'airC'> {
  readonly airC?: ArrayLike<number>;
}

/** The clear-sky powers at the middles of `count` steps from `startMs`. The sun is slow: every other step is computed, the ones between are means. */
export function clearSkySeriesW(
  rig: Pick<RigModel, 'panels'>,
  place: Place | null,
  headingDeg: number,
  startMs: EpochMs,
  stepMs: number,
  count: number,
  { airC, ...rest }: SeriesSurroundings = {},
): Float64Array {
  const out = new Float64Array(count);
  if (place === null || rig.panels.length === 0) return out;
  const at = (i: number): number => clearSkyPanelsW(rig, place, startMs + (i + 0.5) * stepMs, headingDeg, { ...rest, airC: airC?.[i] ?? null });
  for (let i = 0; i < count; i += 2) {
    out[i] = at(i);
    if (i > 1) out[i - 1] = ((out[i - 2] as number) + (out[i] as number)) / 2;
  }
  if (count > 1 && count % 2 === 0) out[count - 1] = at(count - 1);
  return out;
}
