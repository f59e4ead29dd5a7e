import { Body, Equator, Horizon, Observer } from 'astronomy-engine';
import { PLACE } from './place.ts';
import type { Weather } from './weather.ts';

/** A direction as parts towards east, north and up; length 1. */
export interface Direction {
  readonly east: number;
  readonly north: number;
  readonly up: number;
}

/** What falls from the sky at an instant. */
export interface Sky {
  readonly sun: Direction;
  /** On a plane facing the sun, W/m2; 0 behind the hills. */
  readonly beamWm2: number;
  /** From the whole sky on a flat plane, W/m2. */
  readonly diffuseWm2: number;
  /** On a flat plane, W/m2. */
  readonly globalWm2: number;
}

const observer = new Observer(PLACE.latitudeDeg, PLACE.longitudeDeg, PLACE.altitudeM);
const KNOT_MS = 300_000;
const RAD = Math.PI / 180;
/** Hills around the camp: centre and half width in degrees of azimuth, height of the crest in degrees over a base of 2. */
const HILLS = [
  { azimuthDeg: 118, widthDeg: 30, crestDeg: 5 },
  { azimuthDeg: 62, widthDeg: 22, crestDeg: 4 },
  { azimuthDeg: 248, widthDeg: 35, crestDeg: 3.5 },
];

/** Direction from azimuth (0 north, clockwise) and elevation, both in degrees. */
export function directionOf(azimuthDeg: number, elevationDeg: number): Direction {
  const flat = Math.cos(elevationDeg * RAD);
  return { east: flat * Math.sin(azimuthDeg * RAD), north: flat * Math.cos(azimuthDeg * RAD), up: Math.sin(elevationDeg * RAD) };
}

function sunKnot(index: number): Direction {
  const date = new Date(index * KNOT_MS);
  const { ra, dec } = Equator(Body.Sun, date, observer, true, true);
  const { azimuth, altitude } = Horizon(date, observer, ra, dec, 'normal');
  return directionOf(azimuth, altitude);
}

let knotIndex = Number.NaN;
let knots: readonly [Direction, Direction] = [directionOf(0, 0), directionOf(0, 0)];

/** Direction of the sun: exact every five minutes, straight between (wrong by less than 0.01 degrees). */
function sunAt(tMs: number): Direction {
  const index = Math.floor(tMs / KNOT_MS);
  if (index !== knotIndex) {
    knots = [index === knotIndex + 1 ? knots[1] : sunKnot(index), sunKnot(index + 1)];
    knotIndex = index;
  }
  const [a, b] = knots,
    f = tMs / KNOT_MS - index;
  return { east: a.east + (b.east - a.east) * f, north: a.north + (b.north - a.north) * f, up: a.up + (b.up - a.up) * f };
}

/** Elevation of the hills' crest towards an azimuth, degrees. */
export function crestDeg(azimuthDeg: number): number {
  return (
    2 +
    HILLS.reduce((sum, hill) => {
      const off = ((azimuthDeg - hill.azimuthDeg + 540) % 360) - 180;
      return sum + hill.crestDeg * Math.exp(-((off / hill.widthDeg) ** 2));
    }, 0)
  );
}

/**
 * Irradiance at the camp. Clear beam by a power of the air mass, clear diffuse as a share of what the beam lost; clouds hide the
 * disc and brighten or darken the dome.
 * @source Kasten, F. (1965) for the air mass; Meinel & Meinel (1976) for the form of the beam
 */
export function skyAt(tMs: number, weather: Weather): Sky {
  const sun = sunAt(tMs);
  if (sun.up <= 0) return { sun, beamWm2: 0, diffuseWm2: 0, globalWm2: 0 };
  const elevationDeg = Math.asin(Math.min(1, sun.up)) / RAD;
  const airMass = 1 / (sun.up + 0.15 * (elevationDeg + 3.885) ** -1.253);
  const passed = weather.clarityFrac ** (airMass ** 0.66);
  const clearBeam = 1362 * passed;
  const clearDiffuse = 0.32 * 1362 * (1 - passed) * sun.up;
  const cover = weather.coverFrac,
    closed = cover * cover * cover;
  const azimuthDeg = (Math.atan2(sun.east, sun.north) / RAD + 360) % 360;
  const overCrest = Math.min(1, Math.max(0, (elevationDeg - crestDeg(azimuthDeg)) / 0.5 + 0.5));
  const beamWm2 = clearBeam * overCrest * (1 - weather.shadeFrac);
  // White edges of broken cloud brighten the dome; a closed deck gives its own share of the whole.
  const open = clearDiffuse * (1 + 2.2 * cover * (1 - cover));
  const diffuseWm2 = 0.96 * (open * (1 - closed) + weather.deckFrac * (clearBeam * sun.up + clearDiffuse) * closed);
  return { sun, beamWm2, diffuseWm2, globalWm2: beamWm2 * sun.up + diffuseWm2 };
}
