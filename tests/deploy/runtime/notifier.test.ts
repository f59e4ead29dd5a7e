import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { eventIdOf } from '../../../engine/notify/notice.ts';
import type { SendResult } from '../../../shared/ports.ts';
import { LogLine } from '../../../shared/schema/alarm-book.ts';
import { loud, NOON_MS } from '../../helpers/notify-plan.ts';
import { notifierBench, settled } from './notifier-bench.ts';

const LATER: SendResult = { kind: 'later', reason: 'no network' };
const never = new Promise<SendResult>(() => {});
const over = loud({ condition: false, lifecycle: 'returned', text: 'It has recovered.' });
const withHigh = (more: object = {}) => ({ callOut: { high: { first: ['phones'] }, ...more } });

beforeEach(() => {
  vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout'] });
});
afterEach(() => {
  vi.useRealTimers();
});

describe('an alarm on its way', () => {
  it('is with the documents of the step before anybody is told, and goes to every device of its routes', async () => {
    const bench = await notifierBench(withHigh());
    const { documents, kept } = bench.notifier().onAlarms([loud()], bench.now());
    expect(documents.map(({ kind }) => kind).sort()).toEqual(['notify', 'outbox', 'outbox']);
    expect(bench.phones.made.sent).toEqual([]);
    kept();
    await settled();
    expect(bench.phones.made.sent.map(({ target }) => target)).toEqual(['ann', 'bob']);
    expect(bench.phones.made.sent[0]?.notice).toMatchObject({
      eventId: eventIdOf('bank-low', 1),
      kind: 'alarm',
      alarmId: 'bank-low',
      occurrence: 1,
      priority: 'high',
      issuedText: '12:00',
      canAcknowledge: true,
    });
    const ids = bench.phones.made.sent.map(({ notice }) => notice.noticeId);
    expect(new Set(ids).size).toBe(2);
  });

  it('is sent when its own transaction is on disk, not by the end of another', async () => {
    const bench = await notifierBench(withHigh());
    const first = bench.notifier().onAlarms([loud()], bench.now());
    const second = bench.notifier().onAlarms([loud(), loud({ id: 'cabin-hot' })], bench.now());
    first.kept();
    await bench.tick();
    expect(bench.phones.texts()).toEqual(['alarm bank-low-1', 'alarm bank-low-1']);
    second.kept();
    await settled();
    expect(bench.phones.texts().slice(2)).toEqual(['alarm cabin-hot-1', 'alarm cabin-hot-1']);
  });

  it('is told although one of its name and number was told before its rule was taken out', async () => {
    const bench = await notifierBench(withHigh());
    await bench.step([loud()]);
    await bench.step([]);
    await bench.step([loud()]);
    expect(bench.phones.made.sent).toHaveLength(4);
  });

  it('goes by a route that the rig file has named anew once there is somebody to send by it', async () => {
    const bench = await notifierBench({ callOut: { high: { first: ['post'] } } });
    bench.senders.delete('post');
    await bench.step([loud()]);
    bench.senders.set('post', bench.post.sender);
    await bench.step([loud()]);
    expect(bench.post.texts()).toEqual(['alarm bank-low-1']);
  });

  it('to a device that its owner has taken out is given up, and nobody is told to subscribe it anew', async () => {
    const bench = await notifierBench({ callOut: { high: { first: ['phones'] }, medium: { first: ['post'] } } });
    bench.phones.made.answer = async () => LATER;
    await bench.step([loud()]);
    bench.phones.made.targets = bench.phones.made.targets.filter(({ id }) => id !== 'ann');
    await bench.tick(60);
    expect((await bench.entries()).find(({ target }) => target === 'ann')).toMatchObject({ state: 'failed' });
    expect(bench.post.made.sent).toEqual([]);
  });

  it('gives nothing to keep while nothing changes', async () => {
    const bench = await notifierBench(withHigh());
    await bench.step([loud()]);
    expect(await bench.step([loud()])).toEqual([]);
    expect(await bench.step([])).not.toEqual([]);
  });

  it('is tried again until it gets through, and its results are kept and logged', async () => {
    const bench = await notifierBench({ callOut: { high: { first: ['post'] } } });
    bench.post.made.answer = async () => LATER;
    await bench.step([loud()]);
    await bench.tick(1);
    expect(bench.post.made.sent).toHaveLength(1);
    await bench.tick(6);
    expect(bench.post.made.sent).toHaveLength(2);
    bench.post.made.answer = async () => ({ kind: 'sent', detail: '250 taken' });
    await bench.tick(60);
    expect(bench.post.made.sent).toHaveLength(3);
    await bench.tick(600);
    expect(bench.post.made.sent).toHaveLength(3);
    expect(await bench.entries()).toMatchObject([{ state: 'delivered', attempts: 3, reason: '250 taken' }]);
    const lines = await bench.lines();
    for (const line of lines) expect(LogLine.safeParse(line).success).toBe(true);
    expect(lines).toMatchObject([
      { route: 'post', state: 'waiting', reason: 'no network', alarmId: 'bank-low' },
      { route: 'post', state: 'delivered', attempts: 3 },
    ]);
  });

  it('that was told and is over is told as over, quietly, to those who were told alone', async () => {
    const bench = await notifierBench(withHigh());
    bench.phones.made.answer = async (_notice, target) => (target === 'ann' ? { kind: 'sent', detail: '' } : LATER);
    await bench.step([loud()]);
    bench.phones.made.answer = async () => ({ kind: 'sent', detail: '' });
    await bench.step([over]);
    await bench.tick(600);
    expect(bench.phones.made.sent.map(({ notice, target }) => `${target} ${notice.kind} ${notice.priority}`)).toEqual([
      'ann alarm high',
      'bob alarm high',
      'ann returned low',
    ]);
    expect(bench.phones.made.sent[2]?.notice).toMatchObject({
      eventId: 'bank-low-1',
      title: 'Over: The bank',
      text: 'It has recovered.',
      canAcknowledge: false,
    });
  });

  it('N11: that waited for hours goes with the words of now; one that is over by then does not go at all', async () => {
    const bench = await notifierBench({ callOut: { high: { first: ['post'] }, repeatEvery: 900 } });
    bench.post.made.answer = async () => LATER;
    bench.phones.made.answer = async () => LATER;
    await bench.step([loud(), loud({ id: 'cabin-hot' })]);
    for (let i = 0; i < 5 * 60; i += 1) await bench.step([loud({ text: `It is at ${300 - i}.` }), loud({ id: 'cabin-hot' })], 60);
    await bench.step([loud({ text: 'It is at 1.' }), { ...over, id: 'cabin-hot' }], 60);
    const tried = bench.post.made.sent.length;
    bench.post.made.answer = async () => ({ kind: 'sent', detail: '' });
    await bench.tick(400);
    expect(bench.post.made.sent.slice(tried).map(({ notice }) => notice.eventId)).toEqual(['bank-low-1']);
    expect(bench.post.made.sent.at(-1)?.notice.text).toMatch(/It is at 1\.$/);
  });

  it('N05: expires when what it warns of comes, but not while the alarm still calls', async () => {
    let eventMs = NOON_MS + 3_600_000;
    const bench = await notifierBench({ callOut: { medium: { first: ['post'] } }, options: { eventMs: () => eventMs } });
    bench.post.made.answer = async () => LATER;
    const medium = loud({ priority: 'medium' });
    await bench.step([medium]);
    expect(await bench.entries()).toMatchObject([{ notice: { expiresMs: eventMs } }]);
    eventMs += 7_200_000;
    for (let i = 0; i < 70; i += 1) await bench.step([medium], 60);
    expect(await bench.entries()).toMatchObject([{ state: 'waiting', notice: { expiresMs: eventMs } }]);
  });

  it('that is no alarm expires, and the log says so', async () => {
    const bench = await notifierBench();
    bench.post.made.answer = async () => LATER;
    bench.notifier().tryRoutes('post');
    await bench.step([], 599);
    expect(await bench.entries()).toMatchObject([{ state: 'waiting' }]);
    const tried = bench.post.made.sent.length;
    await bench.step([], 1);
    await bench.tick(600);
    expect(await bench.entries()).toMatchObject([{ state: 'expired' }]);
    expect(await bench.lines()).toContainEqual(expect.objectContaining({ state: 'expired', route: 'post', what: 'Test' }));
    expect(bench.post.made.sent).toHaveLength(tried);
  });

  it('puts out a lamp when somebody acknowledges, and tells nobody else', async () => {
    const bench = await notifierBench({ callOut: { high: { first: ['phones', 'lamp'] } } });
    await bench.step([loud()]);
    await bench.step([loud({ lifecycle: 'acknowledged', acknowledgedBy: 'Ann' })]);
    expect(bench.lamp.texts()).toEqual(['alarm bank-low-1', 'returned bank-low-1']);
    expect(bench.lamp.made.sent[1]?.notice.text).toBe('Ann acknowledged it.');
    expect(bench.phones.texts()).toEqual(['alarm bank-low-1', 'alarm bank-low-1']);
  });

  it('to a device that is gone is told of by the other ways, and no more is sent there', async () => {
    const bench = await notifierBench({ callOut: { high: { first: ['phones'] }, medium: { first: ['phones', 'post'] } } });
    bench.phones.made.answer = async (_notice, target) => {
      if (target !== 'ann') return { kind: 'sent', detail: '' };
      bench.phones.made.targets = bench.phones.made.targets.filter(({ id }) => id !== 'ann');
      return { kind: 'gone', reason: 'unsubscribed' };
    };
    await bench.step([loud()]);
    expect(bench.phones.made.sent.map(({ target, notice }) => `${target} ${notice.kind}`)).toEqual(['ann alarm', 'bob alarm', 'bob check']);
    expect(bench.post.made.sent[0]?.notice.text).toContain('phone ann takes no messages any more (unsubscribed)');
  });
});

describe('senders that fail', () => {
  it('one that hangs blocks no other; its attempt ends after 20 s, and there is one at a time', async () => {
    const bench = await notifierBench({ callOut: { high: { first: ['post', 'phones'] } } });
    bench.post.made.answer = () => never;
    await bench.step([loud()]);
    expect(bench.phones.made.sent).toHaveLength(2);
    await bench.step([loud(), loud({ id: 'cabin-hot', priority: 'critical' })], 1);
    expect(bench.post.made.sent).toHaveLength(1);
    expect(bench.post.made.sent[0]?.signal.aborted).toBe(false);
    await vi.advanceTimersByTimeAsync(20_000);
    expect(bench.post.made.sent[0]?.signal.aborted).toBe(true);
    await settled();
    expect((await bench.entries()).find(({ route, notice }) => route === 'post' && notice.alarmId === 'bank-low')).toMatchObject({
      state: 'waiting',
      attempts: 1,
      reason: 'no answer within 20 s',
    });
  });

  it('one that throws counts as one that failed', async () => {
    const bench = await notifierBench({ callOut: { high: { first: ['post'] } } });
    bench.post.made.answer = () => {
      throw new Error('a bug');
    };
    await bench.step([loud()]);
    expect(await bench.entries()).toMatchObject([{ state: 'waiting', attempts: 1, reason: 'a bug' }]);
  });

  it('a route that is taken out of the rig file gives its notices up', async () => {
    const bench = await notifierBench({ callOut: { high: { first: ['post'] } } });
    bench.post.made.answer = async () => LATER;
    await bench.step([loud()]);
    bench.senders.delete('post');
    await bench.tick(60);
    expect(await bench.entries()).toMatchObject([{ state: 'failed' }]);
  });

  it('when nothing gets through, a high alarm goes to every other route after two minutes', async () => {
    const bench = await notifierBench({ callOut: { high: { first: ['post'] }, repeatEvery: 7200 } });
    bench.post.made.answer = async () => LATER;
    for (let i = 0; i < 13; i += 1) await bench.step([loud()]);
    expect(bench.phones.texts()).toEqual(['alarm bank-low-1', 'alarm bank-low-1']);
  });
});

describe('D16: a store that fails', () => {
  it('does not keep an alarm from being sent', async () => {
    const bench = await notifierBench(withHigh());
    bench.hand.failsToKeep = true;
    await bench.step([loud()]);
    expect(bench.phones.made.sent).toHaveLength(2);
    expect(bench.said.some((line) => line.includes('the disk is full'))).toBe(true);
    await bench.tick(600);
    expect(bench.phones.made.sent).toHaveLength(2);
  });
});

describe('N08: a restart', () => {
  it('sends nothing again that got through', async () => {
    const bench = await notifierBench(withHigh());
    await bench.step([loud()]);
    await bench.restart();
    await bench.step([loud()]);
    await bench.tick();
    expect(bench.phones.made.sent).toHaveLength(2);
  });

  it('between keeping and sending loses nothing', async () => {
    const bench = await notifierBench(withHigh());
    await bench.store.put(bench.notifier().onAlarms([loud()], bench.now()).documents);
    await bench.restart();
    await bench.step([loud()]);
    expect(bench.phones.made.sent.map(({ target }) => target)).toEqual(['ann', 'bob']);
  });

  it('between sending and keeping the result sends the same event again, by which a device shows one', async () => {
    const bench = await notifierBench(withHigh());
    bench.phones.made.answer = () => never;
    await bench.step([loud()]);
    bench.phones.made.answer = async () => ({ kind: 'sent', detail: '' });
    await bench.restart();
    await bench.step([loud()]);
    const toAnn = bench.phones.made.sent.filter(({ target }) => target === 'ann').map(({ notice }) => `${notice.noticeId} ${notice.eventId}`);
    expect(toAnn).toHaveLength(2);
    expect(new Set(toAnn).size).toBe(1);
  });

  it('does not send what waited before a step has looked whether it still holds', async () => {
    const bench = await notifierBench(withHigh());
    bench.phones.made.answer = async () => LATER;
    await bench.step([loud()]);
    const tried = bench.phones.made.sent.length;
    await bench.restart(600);
    await bench.tick();
    expect(bench.phones.made.sent).toHaveLength(tried);
    await bench.step([over]);
    await bench.tick(600);
    expect(bench.phones.made.sent).toHaveLength(tried);
  });

  it('under a clock that is not to be trusted puts nothing off, however long ago somebody was last called', async () => {
    const bench = await notifierBench({ callOut: { medium: { first: ['post'] } } });
    await bench.step([loud({ priority: 'medium' })]);
    await bench.step([{ ...over, priority: 'medium' }]);
    for (let i = 0; i < 600; i += 1) await bench.step([], 60);
    bench.post.made.answer = async () => LATER;
    bench.notifier().tryRoutes('post');
    await settled();
    bench.hand.clockSure = false;
    await bench.restart(20);
    bench.post.made.answer = async () => ({ kind: 'sent', detail: '' });
    await bench.tick(30);
    expect(bench.post.texts().filter((text) => text.startsWith('test'))).toHaveLength(2);
    expect((await bench.entries()).map(({ state }) => state)).not.toContain('waiting');
  });

  it('with no trust in any clock loses a minute at most of the time until who is next', async () => {
    const bench = await notifierBench({ callOut: { high: { first: ['phones'], then: [{ after: 1800, routes: ['post'] }] }, repeatEvery: 7200 } });
    bench.hand.clockSure = false;
    for (let i = 0; i < 170; i += 1) await bench.step([loud()]);
    await bench.restart(3600);
    for (let i = 0; i < 17; i += 1) await bench.step([loud()]);
    expect(bench.post.texts()).toEqual(['alarm bank-low-1']);
  });

  it('repeats what nobody has acknowledged for long', async () => {
    const bench = await notifierBench(withHigh({ repeatEvery: 900 }));
    await bench.step([loud()]);
    await bench.restart(890);
    await bench.step([loud()]);
    expect(bench.phones.made.sent).toHaveLength(4);
    expect(bench.phones.made.sent[2]?.notice).toMatchObject({ eventId: 'bank-low-1', text: 'Nobody has acknowledged it for 15 min. It is low.' });
  });
});

describe('N10: a clock that jumps', () => {
  it.each([7, -7])('by %i h makes nothing expire, nor wait', async (hours) => {
    const bench = await notifierBench({ callOut: { high: { first: ['post'] }, repeatEvery: 14_400 } });
    bench.post.made.answer = async () => LATER;
    await bench.step([loud()]);
    bench.hand.jumpMs = hours * 3_600_000;
    bench.post.made.answer = async () => ({ kind: 'sent', detail: '' });
    await bench.step([loud()], 10);
    expect(await bench.entries()).toMatchObject([{ state: 'delivered', attempts: 2 }]);
  });
});

describe('a test of the routes', () => {
  it('goes the way of an alarm, to one route or to all', async () => {
    const bench = await notifierBench();
    expect(bench.notifier().tryRoutes('post')).toBe('');
    await settled();
    expect(bench.post.made.sent[0]?.notice).toMatchObject({ kind: 'test', alarmId: null, canAcknowledge: false });
    bench.pass(5);
    expect(bench.notifier().tryRoutes(null)).toBe('');
    await settled();
    expect([bench.post, bench.phones, bench.tablet, bench.lamp].map(({ made }) => made.sent.length)).toEqual([2, 2, 1, 1]);
    expect(bench.notifier().tryRoutes('nowhere')).not.toBe('');
    bench.phones.made.targets = [];
    expect(bench.notifier().tryRoutes('phones')).toBe('nobody is there to take it');
  });
});

describe('what a device says it showed', () => {
  it('is kept with its notice, logged, and proves the route', async () => {
    const bench = await notifierBench(withHigh());
    await bench.step([loud()]);
    const noticeId = bench.phones.made.sent[0]?.notice.noticeId ?? '';
    bench.notifier().received({ noticeId, subscription: 'https://push.example/ann' });
    await settled();
    expect((await bench.entries()).map(({ receivedMs }) => receivedMs)).toEqual([bench.now().wallMs, null]);
    expect((await bench.lines()).at(-1)).toMatchObject({ state: 'received', targetName: 'phone ann' });
    expect(
      bench
        .notifier()
        .reach()
        .routes.find(({ name }) => name === 'phones')?.receivedMs,
    ).toBe(bench.now().wallMs);
  });
});

describe('closing', () => {
  it('ends what is under way, and keeps it for the next start', async () => {
    const bench = await notifierBench(withHigh());
    bench.phones.made.answer = () => never;
    await bench.step([loud()]);
    await bench.notifier().close();
    expect((await bench.entries()).map(({ state, attempts }) => `${state} ${attempts}`)).toEqual(['waiting 0', 'waiting 0']);
    bench.phones.made.answer = async () => ({ kind: 'sent', detail: '' });
    await bench.restart();
    await bench.step([loud()]);
    expect((await bench.entries()).map(({ state }) => state)).toEqual(['delivered', 'delivered']);
  });
});
