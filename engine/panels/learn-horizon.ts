import { BIN_MS } from '../types.ts';
import type { Judged, Light } from './beam.ts';
import { type Horizon, SECTORS, sectorOf } from './horizon.ts';

/** How often each light comes with something before a sun that shines. */
const BEHIND: Readonly<Record<Light, number>> = { beam: 0.02, between: 0.08, 'sky-only': 0.9 };
/** Over this, nothing but cloud is taken to stand before the sun when the stop's own skies are counted, degrees. */
const OPEN_SKY_DEG = 25;
/** Haze dims a lower sun as a hill would, degrees. */
const LEAST_DEG = 7;
/** Cloud lasts: so many ten minutes on end tell as much as one. */
const ALIKE = 2;
/** How much likelier the lights must be with something there than without (logarithm). */
const CONVINCING = 4;
/**
 * A hill's edge is sharp and stays where it is: from no sun to sun within this time, at this height within this much, on so many days
 * and on such a share of them.
 */
const EDGE_MS = 2 * BIN_MS;
const EDGE_DEG = 3;
const EDGE_DAYS = 2;
const EDGE_DAY_SHARE = 0.2;
const DAY_MS = 86_400_000;

/** How often each light comes at this stop with nothing but sky before the sun. */
function openSky(rows: readonly Judged[]): Record<Light, number> {
  const count: Record<Light, number> = { beam: 6, between: 3, 'sky-only': 2 };
  for (const { light, sky } of rows) if (sky.elevationDeg >= OPEN_SKY_DEG) count[light] += 1 / ALIKE;
  const all = count.beam + count.between + count['sky-only'];
  return { beam: count.beam / all, between: count.between / all, 'sky-only': count['sky-only'] / all };
}

/** Where the sun came out or went within twenty minutes: its height there, and the day. */
interface Edge {
  readonly elevationDeg: number;
  readonly day: number;
}

function edgesIn(rows: readonly Judged[]): Edge[][] {
  const edges: Edge[][] = Array.from({ length: SECTORS }, () => []);
  for (const [i, row] of rows.entries()) {
    for (const later of rows.slice(i + 1, i + 3)) {
      const turns = (row.light === 'beam' && later.light === 'sky-only') || (row.light === 'sky-only' && later.light === 'beam');
      if (!turns || later.tMs - row.tMs > EDGE_MS) continue;
      const dim = row.light === 'sky-only' ? row : later;
      const elevationDeg = (row.sky.elevationDeg + later.sky.elevationDeg) / 2;
      // What stands there keeps the sun away while it is lower, not while it is higher.
      if (dim.sky.elevationDeg < elevationDeg) edges[sectorOf(dim.sky.azimuthDeg)]?.push({ elevationDeg, day: Math.floor(row.tMs / DAY_MS) });
    }
  }
  return edges;
}

const daysOf = (days: readonly number[]): number => new Set(days).size;

/** How high it must be in one direction by the lights alone; `whole`: the sun never came out there. */
interface Height {
  readonly deg: number;
  readonly whole: boolean;
}

function heightOf(sector: readonly Judged[], open: Readonly<Record<Light, number>>): Height | null {
  const byHeight = [...sector].sort((a, b) => a.sky.elevationDeg - b.sky.elevationDeg);
  let told = 0;
  let most = CONVINCING;
  let height: Height | null = null;
  for (const [i, { light, sky }] of byHeight.entries()) {
    told += Math.log(BEHIND[light] / open[light]) / ALIKE;
    if (told <= most) continue;
    most = told;
    const next = byHeight[i + 1];
    height = next ? { deg: (sky.elevationDeg + next.sky.elevationDeg) / 2, whole: false } : { deg: sky.elevationDeg + 0.5, whole: true };
  }
  return height;
}

/**
 * The horizon of this stop, as far as the sun's paths have told it: in each direction the height under which the panels got only the light of
 * the sky, where that is much likelier than cloud and its edge is sharp and steady. A direction in which the sun never came out is taken for
 * blocked only beside one with such an edge. Fog that lifts when it likes leaves the horizon unknown; a hill, a canyon or a tree shows in days.
 * @param rows  the judged daylight of this stop, in order of time
 */
export function learnHorizon(rows: readonly Judged[]): Horizon {
  const high = rows.filter((row) => row.sky.elevationDeg >= LEAST_DEG);
  const open = openSky(high);
  const sectors: Judged[][] = Array.from({ length: SECTORS }, () => []);
  for (const row of high) sectors[sectorOf(row.sky.azimuthDeg)]?.push(row);
  const heights = sectors.map((sector) => heightOf(sector, open));
  const edges = edgesIn(high);
  const sharp = heights.map((height, i) => {
    const around = [i - 1, i, i + 1].flatMap((k) => edges[(k + SECTORS) % SECTORS] as Edge[]);
    const near = around.filter((edge) => height !== null && Math.abs(edge.elevationDeg - height.deg) < EDGE_DEG);
    const days = daysOf((sectors[i] as Judged[]).map((row) => Math.floor(row.tMs / DAY_MS)));
    return daysOf(near.map((edge) => edge.day)) >= Math.max(EDGE_DAYS, EDGE_DAY_SHARE * days);
  });
  const known = heights.map((height, i) => (height !== null && sharp[i] ? height.deg : null));
  for (const way of [1, -1]) {
    for (let turn = 0; turn < 2 * SECTORS; turn++) {
      const i = (((way * turn) % SECTORS) + SECTORS) % SECTORS;
      const beside = known[(i - way + SECTORS) % SECTORS];
      const height = heights[i];
      if (known[i] === null && height?.whole && beside !== null) known[i] = height.deg;
    }
  }
  return known;
}
