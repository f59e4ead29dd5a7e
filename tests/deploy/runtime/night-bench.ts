import { randomUUID } from 'node:crypto';
import { vi } from 'vitest';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import type { Senders } from '../../../deploy/routes/senders.ts';
import { systemClock } from '../../../deploy/runtime/clock.ts';
import type { JobRunner } from '../../../deploy/runtime/jobs.ts';
import { type Live, openLive } from '../../../deploy/runtime/live.ts';
import { loadNotified } from '../../../deploy/runtime/notified.ts';
import { loadPast } from '../../../deploy/runtime/resume.ts';
import { loadWatch } from '../../../deploy/runtime/watch-mode.ts';
import { runJob } from '../../../engine/jobs.ts';
import type { Sender, SendResult } from '../../../shared/ports.ts';
import type { Alarm } from '../../../shared/schema/alarm.ts';
import type { Command } from '../../../shared/schema/api.ts';
import type { Notice } from '../../../shared/schema/notice.ts';
import type { Projection } from '../../../shared/schema/projection.ts';
import { RigFile } from '../../../shared/schema/rig-file.ts';
import { senderOf } from './notifier-bench.ts';

const SENT: SendResult = { kind: 'sent', detail: 'taken' };
const SECOND_MS = 1000;

export const FILE = {
  rig: { id: 'heron', name: 'Heron' },
  place: { latitude: 39.6, longitude: -8.1, timeZone: 'Etc/UTC' },
  bank: { cells: 8, capacityAh: 280 },
  signals: {
    'bank.voltage': { topic: 'v' },
    'bank.current': { topic: 'a' },
    'cabin.temperature': { topic: 'c' },
    'dog.crate': { topic: 'd', quantity: 'temperature', unit: 'degC' },
  },
  heartbeat: { url: 'https://watch.example/heron', every: 60 },
  briefings: { bedtime: null, morning: false },
};

/** What a phone has been told, and when, ms since the bench began. */
export interface Told {
  readonly atMs: number;
  readonly notice: Notice;
}

/**
 * A rig that runs as it does on its box: its real clockwork, on clocks turned by hand, with one phone that takes everything and a sensor board
 * that speaks every ten seconds. The chance of a low point is what the test says; all else of the projection is the engine's own.
 */
export async function nightBench({ startMs, file = FILE }: { startMs: number; file?: object }) {
  const store = createMemoryStore();
  await store.open();
  const hand = { monoMs: 0, jumpMs: 0 };
  /** What the boards say; null: silent. */
  const says: { v: number | null; a: number | null; c: number | null; d: number | null } = { v: 26.4, a: -10, c: 22, d: 22 };
  const night = { belowFloorProbability: 0.01, verdict: 'holds' as Projection['verdict'] };
  /** No projection comes any more. */
  const jobs = { fail: false };
  const beat = { answer: SENT as SendResult };
  const told: Told[] = [];
  const said: string[] = [];
  let broker = true;

  const phone = senderOf('push', true, ['ann']);
  phone.made.answer = async (notice) => {
    told.push({ atMs: hand.monoMs, notice });
    return SENT;
  };
  const tablet = senderOf('tablet', false);
  const map: ReadonlyMap<string, Sender> = new Map([
    ['tablet', tablet.sender],
    ['phones', phone.sender],
  ]);
  const senders: Senders = {
    all: () => map,
    devices: { add: async () => '', revoke: async () => true, list: () => [] } as unknown as Senders['devices'],
    pushKey: '',
    heartbeat: () => async () => beat.answer,
    replace: async () => {},
    alarmsAre: () => {},
    brokerIsBack: () => {},
    close: async () => {},
  };
  let known: Projection | null = null;
  const runner: JobRunner = {
    run(job, bins, forScreens) {
      if (job.kind !== 'project' || jobs.fail) return null;
      const made = known ?? (runJob(job, bins, { forScreens }) as { projection: Projection }).projection;
      known = made;
      const projection = { ...made, ...night, tMs: job.atMs, doubts: [], helps: [] };
      return { kind: 'project', id: job.id, projection };
    },
    close: async () => {},
  };

  let parsed = RigFile.parse(file);
  let live: Live;
  async function open(): Promise<void> {
    const bootMonoMs = hand.monoMs;
    const clock = systemClock({ wallMs: () => startMs + hand.monoMs + hand.jumpMs, monoMs: () => hand.monoMs - bootMonoMs });
    const now = clock.now();
    const past = await loadPast(store, 'heron', [...parsed.signals.specs.keys()], now, { ms: 86_400_000, filled: false });
    live = openLive({
      file: parsed,
      store,
      clock,
      runner,
      past,
      facts: { demo: false, pace: 1 },
      told: { senders, past: { notified: await loadNotified(store, now), watch: await loadWatch(store, 'heron') } },
      edits: () => 'not here',
      log: { info: (what) => said.push(what), warn: (what) => said.push(what) },
    });
    await live.catchUp([], now.wallMs);
    live.start();
    live.brokerIs(broker ? 'connected' : 'lost', '');
  }
  await open();

  return {
    hand,
    says,
    night,
    jobs,
    beat,
    told,
    said,
    store,
    live: () => live,
    alarm: (id: string): Alarm => live.port.part('alarms').find((one) => one.id === id) as Alarm,
    alarms: () => live.port.part('alarms').filter(({ lifecycle }) => lifecycle !== 'normal'),
    /** What the phone was told since the last call, each with its minute. */
    news(): string[] {
      return told.splice(0).map(({ atMs, notice }) => `${notice.kind} ${notice.alarmId} ${notice.priority} @${Math.floor(atMs / 60_000)}`);
    },
    received(): void {
      for (const { notice } of told.splice(0)) void live.port.receipt({ noticeId: notice.noticeId, subscription: 'x' });
    },
    brokerIs(connected: boolean): void {
      broker = connected;
      live.brokerIs(connected ? 'connected' : 'lost', '');
    },
    command: (command: object) => live.port.command({ id: randomUUID(), expiresMs: live.port.nowMs() + 60_000, ...command } as Command, 'Ann'),
    replaceFile(next: object): void {
      parsed = RigFile.parse(next);
      live.replaceFile(parsed, null);
    },
    /** Time passes, second by second. */
    async pass(seconds: number): Promise<void> {
      for (let s = 0; s < seconds; s += 1) {
        hand.monoMs += SECOND_MS;
        if (broker && hand.monoMs % 10_000 === 0) {
          for (const [topic, value] of Object.entries(says)) {
            if (value !== null) live.accept({ topic, payload: Buffer.from(String(value)), retained: false });
          }
        }
        await vi.advanceTimersByTimeAsync(SECOND_MS);
      }
    },
    async restart(awayS = 0): Promise<void> {
      await live.close();
      hand.monoMs += awayS * 1000;
      await open();
    },
    close: () => live.close(),
  };
}

export type NightBench = Awaited<ReturnType<typeof nightBench>>;
