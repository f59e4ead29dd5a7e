import { createMemoryStore } from '../../collector/store/memory.ts';
import { createAlarmLog } from '../../deploy/runtime/alarm-log.ts';
import { createBinHistory } from '../../deploy/runtime/bins.ts';
import { createNightNotes } from '../../deploy/runtime/night-notes.ts';
import { createNightPort } from '../../deploy/runtime/night-port.ts';
import { BIN_MS, type Bin } from '../../engine/types.ts';
import type { NightRow } from '../../shared/schema/projection.ts';
import { serverUnderTest } from '../dashboard/server/rig-under-test.ts';
import { nightRow } from './night-rows.ts';

const LAKE = { latitudeDeg: 41.2, longitudeDeg: -8.6 };
const HILL = { latitudeDeg: 42.9, longitudeDeg: -7.1 };
/** The newest night is that of 23 November; the one before it lay lower, the one before that is the first on the hill. */
const COUNT = 26;
const LOWS = [59, 48, 55, 70, 62, 41];
const NOON_MS = Date.UTC(2026, 10, 24, 12);

/** Nights oldest first: the last two by the lake, the others on the hill; one with a charge from elsewhere, one whose mini-split is estimated. */
export function someNights(): NightRow[] {
  return Array.from({ length: COUNT }, (_, i) => {
    const nightId = new Date(NOON_MS - (i + 1) * 86_400_000).toISOString().slice(0, 10);
    return nightRow(nightId, {
      lowPointPct: LOWS[i % LOWS.length] ?? 50,
      minisplitWh: 1700 - 50 * i,
      place: i < 2 ? LAKE : HILL,
      ...(i === 2 && { minisplitEstimated: true }),
      ...(i === 3 && { chargersWh: 2100, unexplainedChargeWh: 800, learnedFrom: false }),
      ...(i === 4 && { outsideMaxC: null }),
    });
  }).reverse();
}

/** A bin of a made-up day: the bank falls from sunset to morning and is full at noon. */
function binAt(tMs: number): Bin {
  const hour = (tMs / 3_600_000) % 24;
  const sinceDusk = (hour - 17 + 24) % 24;
  const isDark = sinceDusk < 15;
  const socFrac = isDark ? 0.97 - 0.025 * sinceDusk : Math.min(0.98, 0.6 + 0.06 * (sinceDusk - 15));
  const minisplitW = isDark ? 120 + 40 * Math.sin(sinceDusk) : 0;
  return {
    tMs,
    coverage: 1,
    socFrac,
    voltageV: 26,
    bankW: -200,
    panelsW: isDark ? 0 : 600,
    chargersW: 0,
    loadsW: 200,
    minisplitW,
    standingW: 60,
    inverterW: 20,
    unaccountedW: 0,
    surplusW: 0,
    outsideC: 18 + 6 * Math.cos(((hour - 15) / 12) * Math.PI),
    cabinC: 24,
    waterGm3: null,
    setpointC: 24,
    modeIndex: 1,
    panelIndex: null,
    curtailedFrac: 0,
  };
}

/** The real server with the real port to past nights over a store in memory, listening on loopback. */
export async function startNightsBox(webRoot: string) {
  const rows = someNights();
  const store = createMemoryStore();
  await store.open();
  await store.put(rows.map((row) => ({ kind: 'night', id: row.nightId, tMs: row.endMs, body: JSON.stringify(row) })));
  const fromMs = NOON_MS - 27 * 86_400_000;
  const bins = createBinHistory(Array.from({ length: (NOON_MS - fromMs) / BIN_MS }, (_, i) => binAt(fromMs + i * BIN_MS)));
  const notes = createNightNotes(store, 'heron');
  const nights = async (from: number, to: number) => rows.filter(({ endMs }) => endMs >= from && endMs < to);
  const alarmLog = createAlarmLog({ store, nowMs: () => NOON_MS });
  const { app, rig, view } = await serverUnderTest({ webRoot });
  view.serverMs = NOON_MS;
  Object.assign(rig, createNightPort({ store, bins, notes, alarmLog, announced: null, timeZone: () => 'Europe/Lisbon', nights }), { nights });
  rig.command = async (command) => {
    const reason = command.kind === 'note-night' || command.kind === 'name-place' ? await notes.write(command, NOON_MS) : 'not here';
    return { id: command.id, done: reason === '', reason };
  };
  const url = await app.listen({ host: '127.0.0.1', port: 0 });
  return { url, view, close: () => app.close() };
}
