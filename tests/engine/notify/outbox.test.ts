import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { backoffMs, waitSeed } from '../../../engine/notify/backoff.ts';
import {
  added,
  attempted,
  awoken,
  doorOf,
  due,
  expired,
  MOST_ENTRIES,
  moved,
  type Outbox,
  received,
  refreshed,
  trimmed,
  withdrawn,
} from '../../../engine/notify/outbox.ts';
import type { SendResult } from '../../../shared/ports.ts';
import { entryOf } from '../../helpers/notify-entry.ts';
import { NOON_MS } from '../../helpers/notify-plan.ts';

const H = 3_600_000;
const SENT: SendResult = { kind: 'sent', detail: 'taken' };
const LATER: SendResult = { kind: 'later', reason: 'no network' };
const boxOf = (...entries: Parameters<typeof entryOf>[0][]): Outbox => entries.map(entryOf).reduce(added, [] as Outbox);
const states = (outbox: Outbox) => outbox.map(({ state }) => state);

describe('the outbox', () => {
  it('N11: after hours without a network only the last state of each alarm goes', () => {
    let outbox: Outbox = [];
    for (let i = 0; i < 30; i += 1)
      outbox = added(outbox, entryOf({ id: `n${i}`, alarmId: i % 3 === 0 ? 'cabin-hot' : 'bank-low', occurrence: i, atMs: i * 60_000 }));
    const waiting = outbox.filter(({ state }) => state === 'waiting');
    expect(waiting.map(({ notice }) => notice.eventId)).toEqual(['cabin-hot-27', 'bank-low-29']);
    expect(states(outbox).filter((state) => state === 'replaced')).toHaveLength(28);
  });

  it('lets no notice to one device take the place of one to another', () => {
    expect(states(boxOf({ id: 'a', target: 'x' }, { id: 'b', target: 'y' }, { id: 'c', route: 'post' }))).toEqual(['waiting', 'waiting', 'waiting']);
  });

  it('knows an entry by its id: what was delivered is never sent again', () => {
    const outbox = attempted(boxOf({ id: 'a' }), 'a', SENT, NOON_MS);
    expect(added(outbox, entryOf({ id: 'a' }))).toBe(outbox);
    expect(due(outbox, NOON_MS + H, new Set())).toEqual([]);
  });

  it('waits after a failure, and takes one that was replaced meanwhile as delivered when it got through', () => {
    const waiting = attempted(boxOf({ id: 'a' }), 'a', LATER, NOON_MS);
    expect(waiting[0]).toMatchObject({ state: 'waiting', attempts: 1, reason: 'no network' });
    expect(due(waiting, NOON_MS + 1000, new Set())).toEqual([]);
    expect(due(waiting, NOON_MS + 5000, new Set())).toHaveLength(1);
    const replaced = added(waiting, entryOf({ id: 'b' }));
    expect(states(attempted(replaced, 'a', SENT, NOON_MS))).toEqual(['delivered', 'waiting']);
    expect(states(attempted(replaced, 'a', LATER, NOON_MS))).toEqual(['replaced', 'waiting']);
  });

  it('gives up what is refused for good; when a device is gone, all that waits for it', () => {
    const outbox = boxOf({ id: 'a', alarmId: 'x' }, { id: 'b', alarmId: 'y' }, { id: 'c', target: 'other' });
    expect(states(attempted(outbox, 'a', { kind: 'never', reason: 'refused' }, NOON_MS))).toEqual(['failed', 'waiting', 'waiting']);
    expect(states(attempted(outbox, 'a', { kind: 'gone', reason: 'unsubscribed' }, NOON_MS))).toEqual(['failed', 'failed', 'waiting']);
  });

  it('ends what has outlived its use, and says why it had not got through', () => {
    const outbox = attempted(boxOf({ id: 'a', expiresMs: NOON_MS + H }), 'a', LATER, NOON_MS);
    expect(states(expired(outbox, NOON_MS + H - 1))).toEqual(['waiting']);
    expect(due(outbox, NOON_MS + H, new Set())).toEqual([]);
    expect(expired(outbox, NOON_MS + H)[0]).toMatchObject({ state: 'expired', reason: 'its time was over; no network' });
  });

  it('takes back the waiting notices of an alarm, not the news that it is over, nor those of another', () => {
    const outbox = boxOf({ id: 'a' }, { id: 'b', kind: 'returned', target: 'z' }, { id: 'c', alarmId: 'cabin-hot' });
    expect(states(withdrawn(outbox, 'bank-low', NOON_MS, 'acknowledged'))).toEqual(['replaced', 'waiting', 'waiting']);
  });

  it('gives what waits the words of now', () => {
    const outbox = attempted(boxOf({ id: 'a' }, { id: 'b', target: 'z' }), 'a', SENT, NOON_MS);
    const [a, b] = refreshed(outbox, 'bank-low', 1, { text: 'It is at 30 %.' });
    expect(a?.notice.text).not.toBe('It is at 30 %.');
    expect(b?.notice.text).toBe('It is at 30 %.');
    expect(refreshed(outbox, 'bank-low', 2, { text: 'other' })).toBe(outbox);
  });

  it('moves with a clock that was set, so that nothing expires or waits by it', () => {
    const outbox = moved(attempted(boxOf({ id: 'a', expiresMs: NOON_MS + H }), 'a', LATER, NOON_MS), 7 * H);
    expect(expired(outbox, NOON_MS + 7 * H)).toBe(outbox);
    expect(due(outbox, NOON_MS + 7 * H + 5000, new Set())).toHaveLength(1);
    expect(due(moved(outbox, -14 * H), NOON_MS - 7 * H + 5000, new Set())).toHaveLength(1);
  });

  it('after a time of unknown length goes on from the last change of each entry', () => {
    const tried = attempted(boxOf({ id: 'a', expiresMs: NOON_MS + 4 * H }), 'a', LATER, NOON_MS + 3 * H);
    const wokenMs = NOON_MS + 30 * H;
    const woken = awoken(tried, wokenMs);
    expect(due(woken, wokenMs + 5000, new Set())).toHaveLength(1);
    expect(states(expired(woken, wokenMs + H - 1))).toEqual(['waiting']);
    expect(states(expired(woken, wokenMs + H))).toEqual(['expired']);
  });

  it('lets what one check found stand beside what another did', () => {
    const [a, b] = [entryOf({ id: 'a', kind: 'check' }), entryOf({ id: 'b', kind: 'check' })];
    const check = (entry: typeof a, eventId: string) => ({ ...entry, notice: { ...entry.notice, alarmId: null, eventId } });
    expect(states(added(added([], check(a, 'gone-ann')), check(b, 'gone-bob')))).toEqual(['waiting', 'waiting']);
    expect(states(added(added([], check(a, 'gone-ann')), check(b, 'gone-ann')))).toEqual(['replaced', 'waiting']);
  });

  it('tries one at a time for each device, the most pressing first', () => {
    const outbox = boxOf({ id: 'a', alarmId: 'x', priority: 'low' }, { id: 'b', alarmId: 'y', priority: 'critical' }, { id: 'c', target: 'z' });
    expect(due(outbox, NOON_MS, new Set()).map(({ id }) => id)).toEqual(['b', 'c']);
    expect(due(outbox, NOON_MS, new Set([doorOf(entryOf({ id: 'b' }))])).map(({ id }) => id)).toEqual(['c']);
  });

  it('notes what a device says it showed, once', () => {
    const outbox = boxOf({ id: 'a' });
    const noticeId = outbox[0]?.notice.noticeId ?? '';
    const shown = received(outbox, noticeId, NOON_MS + 5);
    expect(shown[0]).toMatchObject({ state: 'delivered', receivedMs: NOON_MS + 5 });
    expect(received(shown, noticeId, NOON_MS + 9)).toBe(shown);
  });

  it('is bounded: the oldest finished go first, then the least pressing', () => {
    const many = Array.from({ length: MOST_ENTRIES + 20 }, (_, i) =>
      entryOf({ id: `e${i}`, target: `t${i}`, priority: i < 100 ? 'low' : 'critical', atMs: i }),
    );
    const half = many.map((entry, i) => (i % 2 === 1 && i < 30 ? { ...entry, state: 'delivered' as const } : entry));
    const kept = trimmed(half, NOON_MS);
    expect(kept).toHaveLength(MOST_ENTRIES);
    expect(kept.some(({ state }) => state === 'delivered')).toBe(false);
    expect(kept.filter(({ notice }) => notice.priority === 'critical')).toHaveLength(MOST_ENTRIES + 20 - 100);
    expect(kept[0]?.id).toBe('e10');
  });

  it('drops what has been finished for more than a week', () => {
    const outbox = attempted(boxOf({ id: 'a' }), 'a', SENT, NOON_MS);
    expect(trimmed(outbox, NOON_MS + 6 * 24 * H)).toBe(outbox);
    expect(trimmed(outbox, NOON_MS + 8 * 24 * H)).toEqual([]);
  });

  it('in any order of events: one waits a device and subject at most, what got through stays so, attempts only grow', () => {
    const event = fc.oneof(
      fc.record({ do: fc.constant('add' as const), n: fc.nat(5), door: fc.nat(2) }),
      fc.record({
        do: fc.constant('try' as const),
        at: fc.nat(30),
        result: fc.constantFrom<SendResult>(SENT, LATER, { kind: 'never', reason: 'no' }, { kind: 'gone', reason: 'off' }),
      }),
      fc.record({ do: fc.constant('time' as const), ms: fc.integer({ min: 0, max: H }) }),
      fc.record({ do: fc.constant('withdraw' as const), n: fc.nat(5) }),
    );
    fc.assert(
      fc.property(fc.array(event, { maxLength: 60 }), (events) => {
        let [outbox, nowMs, count]: [Outbox, number, number] = [[], NOON_MS, 0];
        for (const one of events) {
          const before = outbox;
          if (one.do === 'add') outbox = added(outbox, entryOf({ id: `e${++count}`, alarmId: `a${one.n}`, target: `t${one.door}`, atMs: nowMs - NOON_MS }));
          else if (one.do === 'try') outbox = attempted(outbox, `e${one.at}`, one.result, nowMs);
          else if (one.do === 'withdraw') outbox = withdrawn(outbox, `a${one.n}`, nowMs, 'over');
          else {
            nowMs += one.ms;
            outbox = expired(outbox, nowMs);
          }
          const waiting = outbox.filter(({ state }) => state === 'waiting').map((entry) => `${doorOf(entry)} ${entry.notice.alarmId}`);
          expect(new Set(waiting).size).toBe(waiting.length);
          for (const [i, entry] of before.entries()) {
            expect(outbox[i]?.attempts).toBeGreaterThanOrEqual(entry.attempts);
            if (entry.state === 'delivered' && one.do !== 'try') expect(outbox[i]?.state).toBe('delivered');
          }
        }
      }),
      { numRuns: 500 },
    );
  });
});

describe('waits between attempts', () => {
  it('double from 5 s to 5 min, less a jitter, the same for the same seed', () => {
    for (let attempts = 1; attempts <= 40; attempts += 1) {
      const seed = waitSeed('entry', attempts);
      const waitMs = backoffMs(attempts, null, seed);
      const fullMs = Math.min(300_000, 5000 * 2 ** (attempts - 1));
      expect(waitMs).toBeGreaterThanOrEqual(0.7 * fullMs);
      expect(waitMs).toBeLessThanOrEqual(fullMs);
      expect(backoffMs(attempts, null, seed)).toBe(waitMs);
    }
  });

  it('differ from entry to entry', () => {
    const waits = new Set(Array.from({ length: 50 }, (_, i) => backoffMs(8, null, waitSeed(`entry ${i}`, 8))));
    expect(waits.size).toBeGreaterThan(40);
  });

  it('heed what the other side asks for, up to an hour', () => {
    expect(backoffMs(1, 120_000, 1)).toBe(120_000);
    expect(backoffMs(1, 86_400_000, 1)).toBe(H);
    expect(backoffMs(1, 1, 1)).toBeGreaterThan(3000);
  });
});
