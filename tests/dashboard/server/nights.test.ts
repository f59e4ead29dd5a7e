import { describe, expect, test } from 'vitest';
import { nightCsv, nightsCsv } from '../../../dashboard/server/nights-csv.ts';
import type { NightDetail } from '../../../shared/schema/night-book.ts';
import { nightRow } from '../../helpers/night-rows.ts';
import { serverUnderTest } from './rig-under-test.ts';

const LAKE = { latitudeDeg: 41.2, longitudeDeg: -8.6 };
const RIDGE = { latitudeDeg: 42.9, longitudeDeg: -7.1 };
const rows = [nightRow('2026-11-20'), nightRow('2026-11-21', { place: RIDGE }), nightRow('2026-11-22', { place: null, outsideMinC: -0.5 })];
const words = {
  timeZone: 'Europe/Lisbon',
  units: 'metric',
  places: [{ place: LAKE, name: '=by the lake' }],
  notes: new Map([['2026-11-21', 'calm, "cold"\nand dry']]),
} as const;
const RANGE = `fromMs=0&toMs=86400000`;

const detail = (): NightDetail => ({
  row: nightRow('2026-11-20'),
  fromMs: Date.UTC(2026, 10, 20, 12),
  toMs: Date.UTC(2026, 10, 21, 12),
  points: [
    {
      tMs: Date.UTC(2026, 10, 20, 12),
      socPct: 97.04,
      panelsW: 400,
      chargersW: 0,
      minisplitW: null,
      standingW: 60,
      inverterW: 20,
      surplusW: 0,
      outsideC: 20,
      cabinC: 24,
      setpointC: 24,
    },
  ],
  floorPct: 35,
  said: [],
  loads: [],
  events: [],
  note: '',
  placeName: '',
});

/** The cells of a file by row and heading; only where no cell is quoted. */
function table(text: string): Record<string, string>[] {
  const [header = [], ...lines] = text
    .trimEnd()
    .split('\r\n')
    .map((line) => line.split(','));
  return lines.map((cells) => Object.fromEntries(header.map((heading, i) => [heading, cells[i] ?? ''])));
}

describe('the ledger as a file', () => {
  test('has a row a night with units in its headings, local times, and what is missing empty', () => {
    const [first, second, third] = table(nightsCsv(rows, { ...words, notes: new Map() }));
    expect(first).toMatchObject({
      night: '2026-11-20',
      begins: '2026-11-20 16:30:00',
      'lowest (%)': '59',
      'lowest said at sunset p50 (%)': '57',
      'lowest said at bedtime p50 (%)': '',
      'mini-split (Wh)': '1700',
      'outside highest (°C)': '31',
    });
    // What a person has typed is no formula to a spreadsheet.
    expect(first?.place).toBe("'=by the lake");
    expect([second?.place, second?.['latitude (°)'], third?.['latitude (°)']]).toEqual(['', '42.9', '']);
    expect(third?.['outside lowest (°C)']).toBe('-0.5');
  });

  test('quotes notes, and writes degrees as the rig does', () => {
    expect(nightsCsv(rows, words)).toContain(',"calm, ""cold""\nand dry"\r\n');
    expect(table(nightsCsv(rows, { ...words, units: 'us', notes: new Map() }))[2]?.['outside lowest (°F)']).toBe('31.1');
  });

  test('of one night has its means by the clock', () => {
    expect(table(nightCsv(detail(), words))).toEqual([
      expect.objectContaining({ 'local time': '2026-11-20 12:00:00', 'state of charge (%)': '97', 'mini-split (W)': '', 'panels (W)': '400' }),
    ]);
  });
});

describe('past nights over HTTP', () => {
  test('come as a file of all places or of one', async () => {
    const { app, rig } = await serverUnderTest();
    rig.nights = async () => rows;
    rig.placeNames = async () => words.places.slice();
    const all = await app.inject({ url: `/api/nights?${RANGE}&format=csv` });
    expect([all.headers['content-type'], all.headers['content-disposition']]).toEqual(['text/csv; charset=utf-8', 'attachment; filename="nights.csv"']);
    expect(table(all.body).map(({ night }) => night)).toEqual(['2026-11-20', '2026-11-21', '2026-11-22']);
    const one = await app.inject({ url: `/api/nights?${RANGE}&format=csv&latitudeDeg=41.21&longitudeDeg=-8.6` });
    expect(table(one.body).map(({ night }) => night)).toEqual(['2026-11-20']);
  });

  test('one is given whole, as JSON and as a file; none of that name is 404, no name at all is refused', async () => {
    const { app, rig } = await serverUnderTest();
    expect((await app.inject({ url: '/api/night?nightId=2026-11-20' })).statusCode).toBe(404);
    expect((await app.inject({ url: '/api/night?nightId=../x' })).statusCode).toBe(400);
    rig.night = async () => detail();
    expect((await app.inject({ url: '/api/night?nightId=2026-11-20' })).json()).toEqual(detail());
    const file = await app.inject({ url: '/api/night?nightId=2026-11-20&format=csv' });
    expect(file.headers['content-disposition']).toBe('attachment; filename="night-2026-11-20.csv"');
    expect(table(file.body)).toHaveLength(1);
  });

  test('curves and names of places are what the rig says', async () => {
    const { app, rig } = await serverUnderTest();
    const curve = { nightId: '2026-11-20', fromMs: 0, stepMs: 600_000, socPct: [97, null] };
    rig.nightCurves = async () => [curve];
    rig.placeNames = async () => [{ place: LAKE, name: 'lake' }];
    expect((await app.inject({ url: `/api/night-curves?${RANGE}` })).json()).toEqual([curve]);
    expect((await app.inject({ url: '/api/places' })).json()).toEqual([{ place: LAKE, name: 'lake' }]);
  });
});
