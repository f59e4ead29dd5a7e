import { describe, expect, test } from 'vitest';
import { keptLines } from '../../../../dashboard/web/src/format/kept.ts';
import { notKeptBrief } from '../../../../dashboard/web/src/format/not-kept.ts';
import type { HealthView, NotKept } from '../../../../shared/schema/live.ts';

const NOW_MS = Date.UTC(2026, 5, 1, 14, 0);
const at = { zone: 'UTC', nowMs: NOW_MS, units: 'metric', signals: [] } as unknown as Parameters<typeof keptLines>[1];
const readings: NotKept = { what: 'readings', sinceMs: NOW_MS - 7_200_000, why: 'the disk is full: free some space on it', waiting: 3204, lost: 0 };
const documents: NotKept = { ...readings, what: 'documents', sinceMs: NOW_MS - 60_000, waiting: 5 };
const health = (given: Partial<HealthView>): HealthView => ({ store: 'failing', ...given }) as HealthView;

describe('what is not kept, in words', () => {
  test('for the top line, with how long it has been so', () => {
    expect(notKeptBrief([], NOW_MS)).toBe('');
    expect(notKeptBrief([readings], NOW_MS)).toBe('readings not kept for 2 h');
    expect(notKeptBrief([documents], NOW_MS)).toBe('nights and alarms not kept for 1 min');
    expect(notKeptBrief([readings, documents], NOW_MS)).toBe('nothing kept for 2 h');
  });

  test('for the health part, a line each with since when, why, what waits and what is lost', () => {
    const [first, second] = keptLines(health({ notKept: [readings, { ...documents, lost: 12 }] }), at);
    expect(first?.name).toBe('Readings');
    expect(first?.text).toMatch(/^not kept since .*12:00.*: the disk is full: free some space on it\. 3\D?204 wait in memory, which a power cut would lose$/u);
    expect(second?.name).toBe('Nights and alarms');
    expect(second?.text).toMatch(/Lost, the oldest first, since memory holds no more: 12$/);
    expect(keptLines(health({ store: 'ok' }), at)).toEqual([{ name: 'Store', text: 'keeps everything', isIll: false }]);
    expect(keptLines(health({ store: 'ok', storeNote: 'it was damaged' }), at)[1]).toEqual({ name: 'Store at the start', text: 'it was damaged' });
  });
});
