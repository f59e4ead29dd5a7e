import { Readable } from 'node:stream';
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
import type { RulePreviewQuestion } from '../../../shared/schema/rule-preview.ts';
import { rigBook } from '../../helpers/rig-book.ts';
import { rulePreview } from '../../helpers/rule-preview.ts';
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
  const previews: RulePreviewQuestion[] = [];
  const receipts: Receipt[] = [];
  const logQueries: Omit<LogQuery, 'format'>[] = [];
  const log: AlarmLog = alarmLog(NOON_MS);
  const restored: string[] = [];
  const imported: string[] = [];
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
    soc: async (fromMs) => ({
      points: [{ tMs: fromMs, socPct: view.bank?.socPct ?? null, panelsW: 0, minisplitW: null, standingW: 80, inverterW: null, surplusW: null }],
    }),
    nights: async () => [],
    days: async () => [],
    lookBack: async () => ({ stays: [], track: trackRecord([]) }),
    nightCurves: async () => [],
    async night() {
      throw new AppError('NOT_FOUND', 'no such night is kept');
    },
    placeNames: async () => [],
    nightNotes: async () => new Map(),
    async advise(question) {
      questions.push(question);
      throw new AppError('NOT_FOUND', 'nothing has been projected yet');
    },
    sensors: () => ({ signals: [], unmapped: [], unmappedDropped: 0 }),
    topic(topic) {
      if (topic !== 'rig/tank') throw new AppError('NOT_FOUND', 'no message of this topic has been heard since the start');
      const field = { format: 'number' as const, text: '61', number: 61, unit: null, usedBy: null, likely: [] };
      return { topic, count: 2, lastMs: NOON_MS, retained: false, payload: '61', isCut: false, fields: [field] };
    },
    tryMapping: ({ signal }) => ({
      value: signal === 'bank.voltage' ? Number.POSITIVE_INFINITY : 61,
      unit: 'V',
      quantity: 'voltage',
      tMs: NOON_MS,
      rejected: null,
      remarks: [],
      doubt: '',
      mistakes: [],
    }),
    zero: ({ signal, seconds }) => ({
      signal,
      unit: 'A',
      readings: seconds,
      mean: 0.42,
      spread: 0.01,
      isSteady: true,
      offset: 0,
      nextOffset: -0.42,
      refused: '',
    }),
    alarmBook,
    async rulePreview(question) {
      previews.push(question);
      return rulePreview(NOON_MS, question.nights);
    },
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
    rigBook: async () => rigBook,
    logLines: (limit) => [{ tMs: NOON_MS, level: 'info' as const, text: `the newest ${limit}` }],
    async backup(withSecrets) {
      const text = `a backup with${withSecrets ? '' : 'out'} secrets`;
      return { name: 'dawnhold-heron.backup', bytes: text.length, content: Readable.from([text]) };
    },
    async restore(content, bytes) {
      const taken = (await content.toArray()).join('');
      if (taken === '') throw new AppError('BACKUP_INVALID', 'this is no backup of Dawnhold');
      const answer = { rigName: 'Heron', takenMs: NOON_MS, nights: 12, words: `${bytes}: ${taken}` };
      return { answer, proceed: () => void restored.push(taken) };
    },
    transfer: () => ({ doing: 'nothing' as const, share: 0, last: null }),
    async exportReadings(query) {
      return { name: `dawnhold-heron.${query.format}`, content: Readable.from([JSON.stringify(query)]) };
    },
    async importReadings(content, bytes) {
      imported.push(`${bytes}: ${(await content.toArray()).join('')}`);
    },
    async command(command, by) {
      commands.push({ command, by });
      return { id: command.id, done: true, reason: '' };
    },
  };
  const change = (what: WhatChanged) => {
    for (const listener of listeners) listener(what);
  };
  return { rig, view, commands, questions, previews, receipts, logQueries, log, restored, imported, tablets, listeners, change };
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
