import type { EpochMs } from '../../shared/units.ts';
import { clearSkyBeamShare, clearSkyGhiWm2 } from '../sun/clear-sky.ts';
import { sunPosition } from '../sun/sun.ts';
import type { Place, RigModel } from '../types.ts';

const RAD = Math.PI / 180;

/**
 * What panes of glass let through of a beam, relative to straight on.
 * @param cosIncidence  0 to 1
 * @source A. F. Souka, H. H. Safwat, "Determination of the optimum orientations for the double-exposure flat-plate collector" (1966), doi 10.1016/0038-092X(66)90004-1 (b0 = 0.05)
 */
function beamTransmission(cosIncidence: number): number {
  return cosIncidence <= 0.05 ? 0 : Math.max(0, 1 - 0.05 * (1 / cosIncidence - 1));
}

/**
 * Power that all panels would give under a clear sky with nothing in the way, W: rated power times irradiance on the panel,
 * beam by incidence, diffuse by the sky it sees. Heat, wiring and dirt are in the learned index.
 * @param headingDeg  of the vehicle's nose from north, clockwise
 */
export function clearSkyPanelsW(rig: Pick<RigModel, 'panels'>, place: Place, tMs: EpochMs, headingDeg: number): number {
  const { elevationDeg, azimuthDeg } = sunPosition(place, tMs);
  const ghi = clearSkyGhiWm2(elevationDeg);
  if (ghi <= 0) return 0;
  const sine = Math.sin(elevationDeg * RAD);
  const beamNormal = Math.min(1100, (ghi * clearSkyBeamShare(elevationDeg)) / sine);
  const diffuse = ghi - beamNormal * sine;
  let powerW = 0;
  for (const panel of rig.panels) {
    const tilt = panel.tiltDeg * RAD;
    const cosIncidence = sine * Math.cos(tilt) + Math.cos(elevationDeg * RAD) * Math.sin(tilt) * Math.cos((azimuthDeg - headingDeg - panel.azimuthDeg) * RAD);
    const beam = Math.max(0, cosIncidence) * beamNormal * beamTransmission(cosIncidence);
    powerW += (panel.ratedW * (beam + (diffuse * (1 + Math.cos(tilt))) / 2)) / 1000;
  }
  return powerW;
}

/** The clear-sky powers at the middles of `count` steps from `startMs`. The sun is slow: every other step is computed, the ones between are means. */
export function clearSkySeriesW(
  rig: Pick<RigModel, 'panels'>,
  place: Place | null,
  headingDeg: number,
  startMs: EpochMs,
  stepMs: number,
  count: number,
): Float64Array {
  const out = new Float64Array(count);
  if (place === null || rig.panels.length === 0) return out;
  for (let i = 0; i < count; i += 2) {
    out[i] = clearSkyPanelsW(rig, place, startMs + (i + 0.5) * stepMs, headingDeg);
    if (i > 1) out[i - 1] = ((out[i - 2] as number) + (out[i] as number)) / 2;
  }
  if (count > 1 && count % 2 === 0) out[count - 1] = clearSkyPanelsW(rig, place, startMs + (count - 0.5) * stepMs, headingDeg);
  return out;
}
