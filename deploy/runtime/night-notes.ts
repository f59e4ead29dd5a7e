import { z } from 'zod';
import { OneAtATime } from '../../shared/one-at-a-time.ts';
import { distanceKm, nearestName, SAME_PLACE_KM } from '../../shared/places.ts';
import type { RigStore } from '../../shared/ports.ts';
import type { Command } from '../../shared/schema/api.ts';
import type { LedgerPlace } from '../../shared/schema/ledger.ts';
import { PlaceName } from '../../shared/schema/night-book.ts';
import type { EpochMs } from '../../shared/units.ts';

const NOTE = 'night-note';
const PLACES = 'place-names';
const Note = z.strictObject({ note: z.string() });
/** Names kept; the one named longest ago goes first. */
const MOST_NAMES = 1000;

/** What a person has written down of nights, and what they call the places where they stood. */
export interface NightNotes {
  note(nightId: string): Promise<string>;
  /** All notes by the night that they are of. */
  notes(): Promise<ReadonlyMap<string, string>>;
  places(): Promise<PlaceName[]>;
  /** What the person calls a place; '' where it has no name. */
  nameOf(place: LedgerPlace | null | undefined): Promise<string>;
  /** Resolves with why it was refused, '' when it is on disk; rejects when the store fails. */
  write(command: Extract<Command, { kind: 'note-night' | 'name-place' }>, nowMs: EpochMs): Promise<string>;
}

export function createNightNotes(store: RigStore, rigId: string): NightNotes {
  async function places(): Promise<PlaceName[]> {
    const body = await store.get(PLACES, rigId);
    return body === null ? [] : (z.array(PlaceName).safeParse(JSON.parse(body)).data ?? []);
  }
  // Side by side, the later of two would write over the earlier.
  const changes = new OneAtATime();
  const noteIn = (body: string): string => Note.safeParse(JSON.parse(body)).data?.note ?? '';
  return {
    async note(nightId) {
      const body = await store.get(NOTE, nightId);
      return body === null ? '' : noteIn(body);
    },
    async notes() {
      const stored = await store.list(NOTE, 0, Number.MAX_SAFE_INTEGER);
      return new Map(stored.map(({ id, body }) => [id, noteIn(body)]));
    },
    places,
    async nameOf(place) {
      return place ? (nearestName(await places(), place)?.name ?? '') : '';
    },
    async write(command, nowMs) {
      if (command.kind === 'note-night') {
        if ((await store.get('night', command.nightId)) === null) return 'no such night is kept';
        if (command.note === '') await store.remove(NOTE, command.nightId);
        else await store.put([{ kind: NOTE, id: command.nightId, tMs: nowMs, body: JSON.stringify({ note: command.note }) }]);
        return '';
      }
      const { place, name } = command;
      return changes.take(async () => {
        const others = (await places()).filter((one) => distanceKm(one.place, place) > SAME_PLACE_KM);
        const named = name === '' ? others : [...others, { place, name }].slice(-MOST_NAMES);
        await store.put([{ kind: PLACES, id: rigId, tMs: nowMs, body: JSON.stringify(named) }]);
        return '';
      });
    },
  };
}
