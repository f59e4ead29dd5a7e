import { randomUUID } from 'node:crypto';
import { describe, expect, test } from 'vitest';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import { createNightNotes } from '../../../deploy/runtime/night-notes.ts';
import { NOON_MS } from '../../helpers/engine-rig.ts';

const LAKE = { latitudeDeg: 41.2, longitudeDeg: -8.6 };
const meant = { id: randomUUID(), expiresMs: NOON_MS };
const noted = (nightId: string, note: string) => ({ kind: 'note-night', ...meant, nightId, note }) as const;
const named = (name: string, place = LAKE) => ({ kind: 'name-place', ...meant, place, name }) as const;

async function underTest() {
  const store = createMemoryStore();
  await store.open();
  await store.put([{ kind: 'night', id: '2026-11-20', tMs: NOON_MS, body: '{}' }]);
  return { store, notes: createNightNotes(store, 'heron') };
}

describe('notes of nights', () => {
  test('are there for the next start, can be changed and taken away, and are of nights that are kept', async () => {
    const { store, notes } = await underTest();
    expect(await notes.write(noted('2026-11-20', 'wind from the lake'), NOON_MS)).toBe('');
    const again = createNightNotes(store, 'heron');
    expect(await again.note('2026-11-20')).toBe('wind from the lake');
    expect([...(await again.notes())]).toEqual([['2026-11-20', 'wind from the lake']]);
    expect(await notes.write(noted('2026-11-21', 'no such night'), NOON_MS)).toBe('no such night is kept');
    expect(await again.note('2026-11-21')).toBe('');
    expect(await notes.write(noted('2026-11-20', ''), NOON_MS)).toBe('');
    expect([await again.note('2026-11-20'), (await again.notes()).size]).toEqual(['', 0]);
  });
});

describe('names of places', () => {
  test('given at the same moment are all kept', async () => {
    const { notes } = await underTest();
    const places = [0, 10, 20].map((latitudeDeg) => ({ latitudeDeg, longitudeDeg: 5 }));
    await Promise.all(places.map((place) => notes.write(named(`at ${place.latitudeDeg}`, place), NOON_MS)));
    expect((await notes.places()).map(({ name }) => name)).toEqual(['at 0', 'at 10', 'at 20']);
  });

  test('hold for stops within two kilometres, of which the nearest counts, also across the date line', async () => {
    const { notes } = await underTest();
    await notes.write(named('by the lake'), NOON_MS);
    await notes.write(named('pine ridge', { latitudeDeg: 41.23, longitudeDeg: -8.6 }), NOON_MS);
    await notes.write(named('far island', { latitudeDeg: -16, longitudeDeg: 179.995 }), NOON_MS);
    expect(await notes.nameOf({ latitudeDeg: 41.21, longitudeDeg: -8.6 })).toBe('by the lake');
    expect(await notes.nameOf({ latitudeDeg: 41.217, longitudeDeg: -8.6 })).toBe('pine ridge');
    expect(await notes.nameOf({ latitudeDeg: 41.3, longitudeDeg: -8.6 })).toBe('');
    expect(await notes.nameOf({ latitudeDeg: -16, longitudeDeg: -179.995 })).toBe('far island');
    expect([await notes.nameOf(null), await notes.nameOf(undefined)]).toEqual(['', '']);
  });

  test('are one a place: another name takes its place, and none takes it away', async () => {
    const { notes } = await underTest();
    await notes.write(named('by the lake'), NOON_MS);
    await notes.write(named('the lake', { latitudeDeg: 41.205, longitudeDeg: -8.6 }), NOON_MS);
    expect((await notes.places()).map(({ name }) => name)).toEqual(['the lake']);
    await notes.write(named(''), NOON_MS);
    expect(await notes.places()).toEqual([]);
  });
});
