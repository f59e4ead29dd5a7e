import { pino } from 'pino';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import { buildServer, type ServerOptions } from '../../../dashboard/server/app.ts';
import { createPairing } from '../../../dashboard/server/pairing.ts';
import type { RigPort, WhatChanged } from '../../../dashboard/server/ports.ts';
import type { Timers } from '../../../dashboard/server/timers.ts';
import { trackRecord } from '../../../engine/ledger/track.ts';
import { AppError } from '../../../shared/errors.ts';
import type { SoundPermission } from '../../../shared/live-version.ts';
import type { AdviceQuestion } from '../../../shared/schema/advice.ts';
import type { AlarmLog, LogQuery } from '../../../shared/schema/alarm-book.ts';
import type { Command, Receipt } from '../../../shared/schema/api.ts';
import type { LiveSnapshot } from '../../../shared/schema/live.ts';
import { alarmBook, alarmFigures, alarmLog } from '../../helpers/web-alarm-book.ts';

export const NOON_MS = Date.UTC(2026, 5, 1, 12);

/** A live view with two signals; every value may be changed by the test. */
export function liveView(): LiveSnapshot {
  const signal = { label: 'Bank', unit: 'V', quantity: 'voltage', everyS: 10, topics: ['rig/shunt'] };
  const state = { value: 26.4, tMs: NOON_MS, quality: 'ok', freshness: 'fresh', received: 1, rejected: 0 } as const;
  return {
    v: 1,
    serverMs: NOON_MS,
    rig: {
      id: 'heron',
      name: 'Heron',
      units: 'metric',
      timeZone: 'Europe/Lisbon',
      demo: false,
      pace: 1,
      placeKnown: true,
      floorPct: 35,
      hasMinisplit: true,
      hasInverter: true,
      rigFileFault: null,
    },
    signals: [
      { ...signal, index: 0, name: 'bank.voltage' },
      { ...signal, index: 1, name: 'bank.current' },
    ],
    states: [
      { ...state, index: 0 },
      { ...state, index: 1, value: -12 },
    ],
    flows: null,
    bank: {
      socPct: 71,
      socSigmaPct: 1.2,
      anchoredMs: null,
      deviceSocPct: null,
      capacityAh: 280,
      voltageV: 26.4,
      currentA: -12,
      remarks: [],
    },
    projection: null,
    alarms: [],
    sun: { known: true, isNight: false, polar: 'none', sunsetMs: NOON_MS + 8 * 3_600_000, sunriseMs: NOON_MS + 17 * 3_600_000 },
    health: { broker: 'connected', brokerSinceMs: NOON_MS, store: 'ok', messages: 3, readings: 3, rejected: 0, lastMessageMs: NOON_MS },
  };
}

/** A rig whose view, time and answers the test sets; commands are written down. */
export function rigUnderTest() {
  const listeners = new Set<(what: WhatChanged) => void>();
  const view = liveView();
  const questions: AdviceQuestion[] = [];
  const commands: { command: Command; by: string }[] = [];
  const receipts: Receipt[] = [];
  const logQueries: Omit<LogQuery, 'format'>[] = [];
  const log: AlarmLog = alarmLog(NOON_MS);
  const tablets = new Map<string, SoundPermission>();
  const rig: RigPort = {
    nowMs: () => view.serverMs,
    snapshot: () => view,
    part: (name) => view[name],
    state: (index) => view.states[index] ?? null,
    subscribe(listener) {
      listeners.add(listener);
      return () => listeners.delete(listener);
    },
    history: async ({ signal, fromMs, toMs, buckets }) => ({
      signal,
      fromMs,
      toMs,
      bucketMs: (toMs - fromMs) / buckets,
      min: Array(buckets).fill(null),
      mean: Array(buckets).fill(Number.NaN),
      max: Array(buckets).fill(null),
      count: Array(buckets).fill(0),
    }),
    soc: async (fromMs) => ({ points: [{ tMs: fromMs, socPct: view.bank?.socPct ?? null, panelsW: 0, minisplitW: null, standingW: 80, surplusW: null }] }),
    nights: async () => [],
    days: async () => [],
    lookBack: async () => ({ stays: [], track: trackRecord([]) }),
    async advise(question) {
      questions.push(question);
      throw new AppError('NOT_FOUND', 'nothing has been projected yet');
    },
    sensors: () => ({ signals: [], unmapped: [], unmappedDropped: 0 }),
    alarmBook,
    async alarmLog(query) {
      logQueries.push(query);
      return log;
    },
    alarmFigures: async (_, toMs) => alarmFigures(toMs),
    async receipt(receipt) {
      receipts.push(receipt);
    },
    tabletIs(clientId, permission) {
      if (permission === null) tablets.delete(clientId);
      else tablets.set(clientId, permission);
    },
    async command(command, by) {
      commands.push({ command, by });
      return { id: command.id, done: true, reason: '' };
    },
  };
  const change = (what: WhatChanged) => {
    for (const listener of listeners) listener(what);
  };
  return { rig, view, commands, questions, receipts, logQueries, log, tablets, listeners, change };
}

/** Time that moves only by `advance`, which runs what falls due on the way, in order. */
export function handTimers() {
  let nowMs = 0;
  const waiting = new Set<{ dueMs: number; work: () => void }>();
  const timers: Timers = {
    nowMs: () => nowMs,
    after(delayMs, work) {
      const entry = { dueMs: nowMs + delayMs, work };
      waiting.add(entry);
      return () => void waiting.delete(entry);
    },
  };
  function advance(byMs: number) {
    const endMs = nowMs + byMs;
    for (;;) {
      const next = [...waiting].filter(({ dueMs }) => dueMs <= endMs).sort((a, b) => a.dueMs - b.dueMs)[0];
      if (!next) break;
      waiting.delete(next);
      nowMs = Math.max(nowMs, next.dueMs);
      next.work();
    }
    nowMs = endMs;
  }
  return { timers, advance };
}

/** Pairing over an open memory store, with a wall clock that the test sets. */
export async function pairingUnderTest() {
  const store = createMemoryStore();
  await store.open();
  const clock = { nowMs: NOON_MS };
  return { store, clock, pairing: createPairing({ store, nowMs: () => clock.nowMs }) };
}

/** A built server that listens nowhere yet, with all that stands behind it. */
export async function serverUnderTest(options: Partial<ServerOptions> = {}) {
  const rig = rigUnderTest();
  const paired = await pairingUnderTest();
  const app = await buildServer({
    rig: rig.rig,
    pairing: paired.pairing,
    webRoot: import.meta.dirname,
    allowedHosts: [],
    loopback: true,
    log: pino({ level: 'silent' }),
    ...options,
  });
  return { ...rig, ...paired, app };
}
