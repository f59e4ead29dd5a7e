import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import { createSqliteStore } from '../../../collector/store/sqlite.ts';
import { createAlarmLog, logEntry } from '../../../deploy/runtime/alarm-log.ts';
import { newestFirst } from '../../../deploy/runtime/newest-first.ts';
import type { RigStore } from '../../../shared/ports.ts';
import type { AlarmChange } from '../../../shared/schema/alarm.ts';
import type { LogLine } from '../../../shared/schema/alarm-book.ts';

const MIN = 60_000;
const DAY = 1440 * MIN;
const START_MS = Date.UTC(2026, 10, 1);
const CHANGE: AlarmChange = {
  tMs: START_MS,
  id: 'cabin-hot',
  condition: true,
  lifecycle: 'unacknowledged',
  suppression: 'none',
  priority: 'high',
  text: 'The cabin is at 32 °C.',
  occurrence: 1,
  deed: 'raised',
  by: '',
};
const raised = (tMs: number, part: Partial<AlarmChange> = {}): LogLine => ({ kind: 'change', ...CHANGE, tMs, ...part });
const sent = (tMs: number, reason = ''): LogLine => ({
  kind: 'delivery',
  tMs,
  alarmId: 'cabin-hot',
  route: 'mail',
  targetName: 'me',
  what: 'Cabin too warm',
  state: reason === '' ? 'delivered' : 'failed',
  attempts: 1,
  reason,
});
const deed = (tMs: number, what: string): LogLine => ({ kind: 'deed', tMs, by: 'Tablet', what });
const ALL = { fromMs: START_MS, toMs: START_MS + 10 * DAY, text: '', alarm: '', limit: 300 };

let folder: string;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'dawnhold-log-'));
});
afterEach(() => rm(folder, { recursive: true, force: true }));

describe.each(['memory', 'sqlite'])('the log of the alarms in a %s store', (kind) => {
  async function logWith(lines: readonly LogLine[], watchedFromMs = START_MS): Promise<{ store: RigStore; log: ReturnType<typeof createAlarmLog> }> {
    const store = kind === 'memory' ? createMemoryStore() : createSqliteStore({ path: join(folder, 'rig.sqlite'), log: { warn: () => {} } });
    await store.open();
    await store.put(lines.map(logEntry));
    await store.put([0, 10, 20].map((minutes) => ({ kind: 'bin', id: String(minutes), tMs: watchedFromMs + minutes * MIN, body: '{}' })));
    return { store, log: createAlarmLog({ store, nowMs: () => START_MS + 10 * DAY }) };
  }

  test('gives changes, deliveries and deeds in one order, newest first, and says when there is more', async () => {
    const lines = [raised(START_MS), sent(START_MS), deed(START_MS + MIN, 'armed the watch'), raised(START_MS + 2 * MIN, { occurrence: 2, deed: 'worse' })];
    const { store, log } = await logWith(lines);
    expect(await log.search(ALL)).toEqual({ lines: lines.toReversed(), more: false });
    expect(await log.search({ ...ALL, limit: 3 })).toEqual({ lines: lines.slice(1).toReversed(), more: true });
    expect(await log.search({ ...ALL, toMs: START_MS })).toEqual({ lines: [], more: false });
    await store.close();
  });

  test('keeps each of what happens to one alarm at one moment, and a line that is written again once', async () => {
    const lines = [raised(START_MS), raised(START_MS, { deed: 'held-back', suppression: 'by-design' }), raised(START_MS, { occurrence: 2 })];
    const { store, log } = await logWith([...lines, ...lines, sent(START_MS), sent(START_MS), sent(START_MS, 'no answer')]);
    expect((await log.search(ALL)).lines).toHaveLength(5);
    await store.close();
  });

  test('finds text in whatever a line shows, in any case, and the lines of one alarm', async () => {
    const { store, log } = await logWith([
      raised(START_MS),
      sent(START_MS + 1, 'Timed out'),
      deed(START_MS + 2, 'tried every route'),
      raised(START_MS + 3, { id: 'low-point' }),
    ]);
    const found = async (part: object) => (await log.search({ ...ALL, ...part })).lines.map(({ tMs }) => tMs - START_MS);
    expect(await found({ text: 'TIMED' })).toEqual([1]);
    expect(await found({ text: 'every' })).toEqual([2]);
    expect(await found({ text: '32 °c' })).toEqual([3, 0]);
    expect(await found({ text: 'me', alarm: 'cabin-hot' })).toEqual([1]);
    expect(await found({ alarm: 'cabin-hot' })).toEqual([1, 0]);
    expect(await found({ alarm: 'cabin' })).toEqual([]);
    await store.close();
  });

  test('reads lines of versions that kept no occurrence, and passes over what it cannot read', async () => {
    const { store, log } = await logWith([]);
    const { occurrence, deed: _, by, ...old } = { ...CHANGE, condition: 'unknown' as const };
    expect([occurrence, by]).toEqual([1, '']);
    const put = (id: string, body: object) => store.put([{ kind: 'alarm', id, tMs: START_MS, body: JSON.stringify(body) }]);
    await put('a', old);
    await put('b', { ...old, lifecycle: 'returned', condition: false });
    await put('c', { ...old, lifecycle: 'resting' });
    expect((await log.search(ALL)).lines).toEqual([
      { kind: 'change', ...old, condition: false, lifecycle: 'returned', occurrence: 0, deed: 'returned', by: '' },
      { kind: 'change', ...old, occurrence: 0, deed: 'out-of-sight', by: '' },
    ]);
    await store.close();
  });

  test('reaches through many pages, also where a whole page is of one moment', async () => {
    const { store } = await logWith([]);
    const docs = Array.from({ length: 100 }, (_, i) => ({ kind: 'x', id: String(i).padStart(3, '0'), tMs: Math.floor(i / 30), body: '' }));
    await store.put(docs);
    const ids: string[] = [];
    for await (const { id } of newestFirst(store, 'x', 0, 100, 7)) ids.push(id);
    expect(ids).toEqual(docs.map(({ id }) => id).reverse());
    await store.close();
  });

  test('counts the rate over the time that has passed and that the rig was watched', async () => {
    const lines = [raised(START_MS + 8 * DAY), raised(START_MS + 9 * DAY, { occurrence: 2 })];
    const { store, log } = await logWith(lines, START_MS + 6 * DAY);
    const figures = await log.figures(START_MS - 20 * DAY, START_MS + 30 * DAY);
    expect(figures.days).toBeCloseTo(4, 1);
    expect(figures.alarmsPerDay).toBeCloseTo(0.5, 1);
    expect(figures.stale).toEqual([{ id: 'cabin-hot', sinceMs: START_MS + 8 * DAY }]);
    await store.close();
  });
});
