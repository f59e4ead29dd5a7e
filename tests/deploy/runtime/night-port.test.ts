import { randomUUID } from 'node:crypto';
import { describe, expect, test } from 'vitest';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import { createAlarmLog, logEntry } from '../../../deploy/runtime/alarm-log.ts';
import { createAnnounced } from '../../../deploy/runtime/announced.ts';
import { createBinHistory } from '../../../deploy/runtime/bins.ts';
import { createNightNotes } from '../../../deploy/runtime/night-notes.ts';
import { createNightPort } from '../../../deploy/runtime/night-port.ts';
import { BIN_MS, type Bin } from '../../../engine/types.ts';
import { NightCurves, NightDetail } from '../../../shared/schema/night-book.ts';
import { HOUR_MS } from '../../helpers/engine-rig.ts';
import { nightRow, saidOf } from '../../helpers/night-rows.ts';

const row = nightRow('2026-11-20');
const NOON_MS = Date.UTC(2026, 10, 20, 12);
const bin = (tMs: number, socFrac: number | null): Bin => ({
  tMs,
  coverage: 1,
  socFrac,
  voltageV: 26,
  bankW: -200,
  panelsW: 0,
  chargersW: 0,
  loadsW: 200,
  minisplitW: 120,
  standingW: 60,
  inverterW: 20,
  unaccountedW: 0,
  surplusW: 0,
  outsideC: 18,
  cabinC: 24,
  waterGm3: null,
  setpointC: 24,
  modeIndex: 1,
  panelIndex: null,
  curtailedFrac: 0,
});
const projection = (tMs: number, p50Pct: number, lowPointMs: number) => ({
  kind: 'projection',
  id: String(tMs),
  tMs,
  body: JSON.stringify({ kind: 'projection', tMs, lowPoint: saidOf(lowPointMs, p50Pct), floorPct: 35, socPct: 80 }),
});
const change = { id: 'low-point', occurrence: 1, deed: 'raised', condition: true, lifecycle: 'unacknowledged', suppression: 'none' } as const;
const event = (tMs: number) => logEntry({ kind: 'change', ...change, tMs, priority: 'medium', by: '', text: 'The bank may fall under its floor.' });

async function underTest(timeZone = 'UTC') {
  const store = createMemoryStore();
  await store.open();
  const bins = Array.from({ length: 24 * 6 + 12 }, (_, i) => bin(NOON_MS + i * BIN_MS, i === 60 ? null : 0.97 - 0.002 * i));
  // The older half lies in the store alone.
  const half = bins.length / 2;
  await store.put(bins.slice(0, half).map((one) => ({ kind: 'bin', id: String(one.tMs), tMs: one.tMs, body: JSON.stringify(one) })));
  await store.put([
    { kind: 'night', id: row.nightId, tMs: row.endMs, body: JSON.stringify(row) },
    projection(row.startMs - HOUR_MS, 50, row.endMs),
    projection(row.startMs + HOUR_MS, 57, row.endMs),
    projection(row.startMs + 9 * HOUR_MS, 58, row.endMs),
    projection(row.endMs, 40, row.endMs + 24 * HOUR_MS),
    event(NOON_MS - HOUR_MS),
    event(row.startMs + 2 * HOUR_MS),
    event(row.startMs + HOUR_MS),
  ]);
  const announced = createAnnounced(store, 'heron', []);
  const notes = createNightNotes(store, 'heron');
  const alarmLog = createAlarmLog({ store, nowMs: () => row.endMs });
  const given = { store, bins: createBinHistory(bins.slice(half)), notes, alarmLog, announced, timeZone: () => timeZone, nights: async () => [row] };
  return { announced, notes, given, port: createNightPort(given) };
}

describe('one night', () => {
  test('is given from noon to noon, with all that was said of it, what happened, loads, note and name', async () => {
    const { port, announced, notes } = await underTest();
    const oven = { kind: 'plan-load', id: randomUUID(), expiresMs: 0, name: 'oven', powerW: 900, startMs: row.startMs + HOUR_MS, minutes: 40 } as const;
    expect(await announced.add(oven, row.startMs)).toBe('');
    const meant = { id: randomUUID(), expiresMs: 0 };
    await notes.write({ kind: 'note-night', ...meant, nightId: row.nightId, note: 'calm' }, row.endMs);
    await notes.write({ kind: 'name-place', ...meant, place: { latitudeDeg: 41.201, longitudeDeg: -8.6 }, name: 'by the lake' }, row.endMs);
    const night = NightDetail.parse(await port.night(row.nightId));
    expect(night).toMatchObject({ fromMs: NOON_MS, toMs: NOON_MS + 24 * HOUR_MS, floorPct: 35, note: 'calm', placeName: 'by the lake' });
    expect(night.points).toHaveLength(144);
    expect(night.points[0]).toMatchObject({ tMs: NOON_MS, socPct: 97, minisplitW: 120, outsideC: 18 });
    expect(night.points[60]?.socPct).toBeNull();
    expect(night.said.map(({ p50Pct, lowPointMs }) => [p50Pct, lowPointMs])).toEqual([
      [57, row.endMs],
      [58, row.endMs],
    ]);
    expect(night.events.map(({ tMs }) => tMs - row.startMs)).toEqual([HOUR_MS, 2 * HOUR_MS]);
    expect(night.loads.map(({ name }) => name)).toEqual(['oven']);
  });

  test('lies between the noons of the zone, and is not cut where the rig is in another zone since', async () => {
    const lisbon = await (await underTest('Europe/Lisbon')).port.night(row.nightId);
    expect([lisbon.fromMs, lisbon.toMs]).toEqual([NOON_MS, NOON_MS + 24 * HOUR_MS]);
    const phoenix = await (await underTest('America/Phoenix')).port.night(row.nightId);
    expect([phoenix.fromMs, phoenix.toMs]).toEqual([row.startMs, NOON_MS + 31 * HOUR_MS]);
  });

  test('that is not kept is not found', async () => {
    const { port } = await underTest();
    await expect(port.night('2026-11-19')).rejects.toMatchObject({ code: 'NOT_FOUND' });
  });
});

describe('the curves of nights', () => {
  test('are means over equal steps, at most 48 of them, from the beginning of the night to its end', async () => {
    const { port } = await underTest();
    const [curve] = NightCurves.parse(await port.nightCurves(NOON_MS, NOON_MS + 48 * HOUR_MS));
    expect(curve).toMatchObject({ nightId: row.nightId, fromMs: row.startMs, stepMs: 2 * BIN_MS });
    if (!curve) throw new Error('no curve to look at');
    expect(curve.socPct).toHaveLength(48);
    // Bins 27 and 28 after noon: 0.97 - 0.002 * 27.5.
    expect(curve.socPct[0]).toBe(91.5);
    // Bin 60 was not measured: its neighbour alone makes the mean of their step.
    expect(curve.socPct[16]).toBe(85.2);
    expect(curve.socPct.at(-1)).toBe(72.7);
  });

  test('have holes where nothing was measured', async () => {
    const store = createMemoryStore();
    await store.open();
    const given = { store, bins: createBinHistory([bin(row.startMs, 0.9)]), announced: null, timeZone: () => 'UTC', nights: async () => [row] };
    const port = createNightPort({ ...given, notes: createNightNotes(store, 'heron'), alarmLog: createAlarmLog({ store, nowMs: () => 0 }) });
    expect((await port.nightCurves(0, row.endMs + 1))[0]?.socPct.slice(0, 3)).toEqual([90, null, null]);
  });
});

test('the curves of a year are read a night at a time, so that nothing else waits for months of them', async () => {
  const { given } = await underTest();
  const nights = Array.from({ length: 60 }, (_, i) => nightRow(new Date(NOON_MS - i * 24 * HOUR_MS).toISOString().slice(0, 10))).reverse();
  const fromMs = Math.floor((nights[0]?.startMs ?? 0) / BIN_MS) * BIN_MS - BIN_MS;
  const past = Array.from({ length: (NOON_MS - fromMs) / BIN_MS }, (_, i) => bin(fromMs + i * BIN_MS, 0.5));
  await given.store.put(past.map((one) => ({ kind: 'bin', id: String(one.tMs), tMs: one.tMs, body: JSON.stringify(one) })));
  let most = 0;
  const store: typeof given.store = {
    ...given.store,
    async list(...of) {
      const found = await given.store.list(...of);
      most = Math.max(most, found.length);
      return found;
    },
  };
  const curves = NightCurves.parse(await createNightPort({ ...given, store, nights: async () => nights }).nightCurves(fromMs, row.endMs));
  expect(curves).toHaveLength(60);
  for (const { nightId, socPct } of curves.slice(0, -1)) expect([nightId, socPct.every((pct) => pct === 50)]).toEqual([nightId, true]);
  expect(most).toBeLessThan(150);
});
