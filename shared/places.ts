import type { LedgerPlace } from './schema/ledger.ts';
import type { PlaceName } from './schema/night-book.ts';

/** Stops so near to each other are one place, km. */
export const SAME_PLACE_KM = 2;
const KM_PER_DEGREE = 111.2;

/** Distance over ground, km; close enough for the few kilometres in question. */
export function distanceKm(a: LedgerPlace, b: LedgerPlace): number {
  const eastDeg = (((a.longitudeDeg - b.longitudeDeg + 540) % 360) - 180) * Math.cos((a.latitudeDeg * Math.PI) / 180);
  return KM_PER_DEGREE * Math.hypot(a.latitudeDeg - b.latitudeDeg, eastDeg);
}

/** The named place that a stop belongs to; undefined where none is near enough. */
export function nearestName(names: readonly PlaceName[], at: LedgerPlace): PlaceName | undefined {
  const near = names.map((named) => ({ named, km: distanceKm(named.place, at) })).filter(({ km }) => km <= SAME_PLACE_KM);
  return near.sort((a, b) => a.km - b.km)[0]?.named;
}
