import { afterEach, describe, expect, it, vi } from 'vitest';
import type { SendResult } from '../../../shared/ports.ts';
import type { NightRow } from '../../../shared/schema/projection.ts';
import { nightRow } from '../../helpers/notify-night.ts';
import { loud } from '../../helpers/notify-plan.ts';
import { notifierBench, settled } from './notifier-bench.ts';

const AFTERNOON = Date.UTC(2026, 10, 27, 17);
const MIN = 60;
const LATER: SendResult = { kind: 'later', reason: 'no network' };
type Bench = Awaited<ReturnType<typeof notifierBench>>;
const reach = (bench: Bench, name: string) =>
  bench
    .notifier()
    .reach()
    .routes.find((route) => route.name === name);
/** Ticks of a minute for so many hours, with a step in each. */
async function live(bench: Bench, hours: number) {
  for (let i = 0; i < hours * 60; i += 1) {
    await bench.step([], 0);
    await bench.tick(MIN);
  }
}

afterEach(() => {
  vi.useRealTimers();
});

describe('probing', () => {
  it('asks every route but the tablet each 15 min, and tells when the reach changes', async () => {
    const bench = await notifierBench({ briefings: { bedtime: null } });
    await bench.tick();
    expect([bench.tablet, bench.phones, bench.post, bench.lamp].map(({ made }) => made.probes)).toEqual([0, 1, 1, 1]);
    expect(reach(bench, 'post')?.state).toBe('works');
    const told = bench.reachTold();
    await live(bench, 0.2);
    expect(bench.post.made.probes).toBe(1);
    expect(bench.reachTold()).toBe(told);
    bench.post.made.probeAnswer = async () => LATER;
    await live(bench, 0.1);
    expect(bench.post.made.probes).toBe(2);
    expect(bench.notifier().failingRoutes()).toEqual(['post']);
    expect(bench.reachTold()).toBeGreaterThan(told);
  });

  it('a probe that hangs is not asked again until it has ended', async () => {
    vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout'] });
    const bench = await notifierBench();
    bench.post.made.probeAnswer = () => new Promise<SendResult>(() => {});
    await live(bench, 1);
    expect(bench.post.made.probes).toBe(1);
    await vi.advanceTimersByTimeAsync(20_000);
    expect(reach(bench, 'post')).toMatchObject({ state: 'fails', reason: 'no answer within 20 s' });
    await bench.tick();
    expect(bench.post.made.probes).toBe(2);
  });

  it('since when nothing has got out survives a restart', async () => {
    const bench = await notifierBench();
    bench.post.made.probeAnswer = bench.phones.made.probeAnswer = async () => LATER;
    await bench.tick();
    const sinceMs = bench.now().wallMs;
    expect(bench.notifier().reach().unreachableSinceMs).toBe(sinceMs);
    await bench.restart(3600);
    await bench.tick();
    expect(bench.notifier().reach().unreachableSinceMs).toBe(sinceMs);
  });

  it('counts tablets by what they report, until they leave', async () => {
    const bench = await notifierBench();
    bench.notifier().tabletIs('one', 'allowed');
    bench.notifier().tabletIs('two', 'blocked');
    bench.notifier().tabletIs('three', 'unsupported');
    expect(bench.notifier().reach().tablets).toEqual({ sounding: 1, silent: 2 });
    bench.notifier().tabletIs('one', null);
    expect(bench.notifier().reach().tablets).toEqual({ sounding: 0, silent: 2 });
    expect(bench.notifier().failingRoutes()).toEqual([]);
  });
});

describe('the heartbeat', () => {
  it('is called at its cadence, and since when it fails is known', async () => {
    let calls = 0;
    const answers: SendResult[] = [{ kind: 'sent', detail: '' }];
    const beat = async () => {
      calls += 1;
      return answers[0] as SendResult;
    };
    const bench = await notifierBench({ heartbeat: { url: 'https://beat.example/x', every: 300 }, options: { beat: () => beat } });
    await live(bench, 1);
    expect(calls).toBe(12);
    expect(bench.notifier().reach().heartbeat).toMatchObject({ failingSinceMs: null });
    answers[0] = LATER;
    await live(bench, 1);
    const { okMs, failingSinceMs, reason } = bench.notifier().reach().heartbeat ?? {};
    expect((failingSinceMs ?? 0) - (okMs ?? 0)).toBe(300_000);
    expect(reason).toBe('no network');
  });

  it('falls silent when nobody looks at the alarms any more, so that a far-away party notices', async () => {
    let calls = 0;
    const beat = async (): Promise<SendResult> => {
      calls += 1;
      return { kind: 'sent', detail: '' };
    };
    const bench = await notifierBench({ heartbeat: { url: 'https://beat.example/x', every: 300 }, options: { beat: () => beat } });
    await live(bench, 1);
    expect(calls).toBe(12);
    for (let i = 0; i < 60; i += 1) await bench.tick(MIN);
    expect(calls).toBeLessThanOrEqual(13);
    expect(bench.notifier().reach().heartbeat).toMatchObject({ failingSinceMs: expect.any(Number), reason: expect.stringContaining('not being looked at') });
    await live(bench, 0.5);
    expect(bench.notifier().reach().heartbeat).toMatchObject({ failingSinceMs: null });
  });

  it('is none where none is set up', async () => {
    const bench = await notifierBench();
    await bench.tick();
    expect(bench.notifier().reach().heartbeat).toBeNull();
  });
});

describe('the evening check', () => {
  const checks = (bench: Bench, who: 'phones' | 'post' = 'post') => bench[who].texts().filter((text) => text.startsWith('check'));

  it('goes over every remote route half an hour before the quiet hours, once', async () => {
    const bench = await notifierBench({ startMs: AFTERNOON, briefings: { bedtime: null } });
    await live(bench, 4.4);
    expect(checks(bench)).toEqual([]);
    await live(bench, 0.2);
    expect(checks(bench)).toEqual(['check check-2026-11-27']);
    expect(checks(bench, 'phones')).toHaveLength(2);
    expect(bench.lamp.texts()).toEqual([]);
    await bench.restart();
    await live(bench, 5);
    expect(checks(bench)).toHaveLength(1);
    await live(bench, 20);
    expect(checks(bench)).toEqual(['check check-2026-11-27', 'check check-2026-11-28']);
  });

  it('goes before the briefing where that is earlier, and leaves out what a device has proven', async () => {
    const bench = await notifierBench({ startMs: AFTERNOON, briefings: { bedtime: '20:00', routes: [] } });
    await bench.step([loud()]);
    bench.notifier().received({ noticeId: bench.phones.made.sent[0]?.notice.noticeId ?? '', subscription: 'x' });
    await live(bench, 2.4);
    expect(checks(bench)).toEqual([]);
    await live(bench, 0.2);
    expect(checks(bench)).toHaveLength(1);
    expect(checks(bench, 'phones')).toEqual([]);
  });

  it('that is late by more than two hours is left out', async () => {
    const bench = await notifierBench({ startMs: Date.UTC(2026, 10, 27, 23, 31) });
    await live(bench, 3);
    expect(checks(bench)).toEqual([]);
  });
});

describe('the briefings', () => {
  const briefings = (bench: Bench) => bench.post.texts().filter((text) => text.startsWith('briefing'));
  const POST = { bedtime: '22:00', routes: ['post'] };

  it('come at bedtime, once, with the reach of alarms, low', async () => {
    const bench = await notifierBench({ startMs: AFTERNOON, briefings: POST });
    bench.phones.made.probeAnswer = bench.post.made.probeAnswer = async () => LATER;
    bench.phones.made.answer = async () => LATER;
    await live(bench, 4.9);
    expect(briefings(bench)).toEqual([]);
    await live(bench, 0.2);
    expect(briefings(bench)).toEqual(['briefing bedtime-2026-11-27']);
    expect(bench.post.made.sent.at(-1)?.notice).toMatchObject({
      priority: 'low',
      canAcknowledge: false,
      text: expect.stringContaining('Remote alarms have not been reachable since 2'),
    });
    await bench.restart();
    await live(bench, 3);
    expect(briefings(bench)).toHaveLength(1);
  });

  it('are not lost when the process is killed before they are on disk', async () => {
    let asked = 0;
    const tonight = (): Promise<null> => {
      asked += 1;
      return asked === 1 ? new Promise(() => {}) : Promise.resolve(null);
    };
    const bench = await notifierBench({ startMs: Date.UTC(2026, 10, 27, 21, 58), briefings: POST, options: { tonight } });
    await live(bench, 0.1);
    expect([asked, briefings(bench).length]).toEqual([1, 0]);
    await bench.restart();
    await live(bench, 0.1);
    expect(briefings(bench)).toHaveLength(1);
  });

  it('come without an advice that hangs, and hold up neither the check of the next evening nor the end of the program', async () => {
    vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout'] });
    const hangs = new Promise<never>(() => {});
    const bench = await notifierBench({ startMs: AFTERNOON, briefings: POST, options: { tonight: () => hangs } });
    await live(bench, 5.1);
    expect(briefings(bench)).toEqual([]);
    await vi.advanceTimersByTimeAsync(60_000);
    await settled();
    expect(briefings(bench)).toHaveLength(1);
    await live(bench, 24);
    expect(bench.post.texts().filter((text) => text.startsWith('check'))).toHaveLength(2);
    const closed = bench.notifier().close();
    await vi.advanceTimersByTimeAsync(60_000);
    await closed;
  });

  it('come without an advice that cannot be had', async () => {
    const bench = await notifierBench({ startMs: AFTERNOON, briefings: POST, options: { tonight: () => Promise.reject(new Error('too busy')) } });
    await live(bench, 5.1);
    expect(briefings(bench)).toHaveLength(1);
    expect(bench.said).toContainEqual(expect.stringContaining('too busy'));
  });

  it('come in the morning when a night has ended, once, and never two hours late', async () => {
    let night: NightRow | null = null;
    const bench = await notifierBench({ startMs: Date.UTC(2026, 10, 28, 8), briefings: POST, options: { lastNight: async () => night } });
    await live(bench, 1);
    expect(briefings(bench)).toEqual([]);
    night = nightRow({ nightId: '2026-11-27', endMs: bench.now().wallMs });
    await live(bench, 0.1);
    expect(briefings(bench)).toEqual(['briefing morning-2026-11-27']);
    await bench.restart();
    await live(bench, 1);
    expect(briefings(bench)).toHaveLength(1);
    night = nightRow({ nightId: '2026-11-28', endMs: bench.now().wallMs - 7_200_000 });
    await live(bench, 1);
    expect(briefings(bench)).toHaveLength(1);
  });

  it('can both be turned off', async () => {
    const night = nightRow({ nightId: '2026-11-27', endMs: AFTERNOON });
    const bench = await notifierBench({
      startMs: AFTERNOON,
      briefings: { bedtime: null, morning: false, routes: ['post'] },
      options: { lastNight: async () => night },
    });
    await live(bench, 9);
    expect(briefings(bench)).toEqual([]);
  });
});
