import { distanceKm, nearestName, SAME_PLACE_KM } from '../../../../shared/places.ts';
import type { LedgerPlace } from '../../../../shared/schema/ledger.ts';
import type { PlaceName } from '../../../../shared/schema/night-book.ts';
import type { NightRow } from '../../../../shared/schema/projection.ts';
import { placeText } from './ledger.ts';

/** Nights at one place: what it is called, and where it lies. */
export interface PlaceGroup {
  readonly label: string;
  /** Null: the place was not known. */
  readonly at: LedgerPlace | null;
  readonly nights: number;
}

/** What a place is called: its name, else "near 41.23° N, 8.10° W". */
export function placeLabel(place: LedgerPlace | null | undefined, names: readonly PlaceName[]): string {
  if (!place) return placeText(null);
  return nearestName(names, place)?.name ?? `near ${placeText(place)}`;
}

/**
 * The place of each night, by night: named ones by their name, others together with the first night within two kilometres. A rig that stands
 * still is not told apart by the last digit of its position.
 */
export function placeLabels(rows: readonly NightRow[], names: readonly PlaceName[]): Map<string, string> {
  const unnamed: LedgerPlace[] = [];
  return new Map(
    rows.map(({ nightId, place }) => {
      if (!place || nearestName(names, place)) return [nightId, placeLabel(place, names)];
      const found = unnamed.find((other) => distanceKm(other, place) <= SAME_PLACE_KM);
      if (!found) unnamed.push(place);
      return [nightId, placeLabel(found ?? place, names)];
    }),
  );
}

/** The places of the rows with how many nights, the most first. `labels` are those of `placeLabels`. */
export function placeGroups(rows: readonly NightRow[], labels: ReadonlyMap<string, string>): PlaceGroup[] {
  const groups = new Map<string, PlaceGroup>();
  for (const { nightId, place } of rows) {
    const label = labels.get(nightId) ?? '';
    const group = groups.get(label) ?? { label, at: place ?? null, nights: 0 };
    groups.set(label, { ...group, nights: group.nights + 1 });
  }
  return [...groups.values()].sort((a, b) => b.nights - a.nights);
}
