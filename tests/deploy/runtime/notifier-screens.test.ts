import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { loud, NOON_MS } from '../../helpers/notify-plan.ts';
import { notifierBench } from './notifier-bench.ts';

beforeEach(() => {
  vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout'] });
});
afterEach(() => {
  vi.useRealTimers();
});

describe('open screens', () => {
  it('sound for an alarm from when their route is taken until somebody acknowledges it', async () => {
    const bench = await notifierBench({ callOut: { quietHours: null, high: { first: ['phones'], then: [{ after: '10 min', routes: ['tablet'] }] } } });
    await bench.step([loud()]);
    expect(bench.notifier().sounds('bank-low')).toBe(false);
    await bench.tick(601);
    await bench.step([loud()]);
    expect(bench.notifier().sounds('bank-low')).toBe(true);
    await bench.step([loud({ lifecycle: 'acknowledged' })]);
    expect(bench.notifier().sounds('bank-low')).toBe(false);
  });

  it('keep quiet at night where the quiet hours leave them out, but never about what is critical', async () => {
    const mute = { first: ['tablet'], atNight: ['phones'] };
    const bench = await notifierBench({ startMs: NOON_MS + 12 * 3_600_000, callOut: { quietHours: ['22:00', '07:00'], medium: mute, critical: mute } });
    await bench.step([loud({ id: 'damp', priority: 'medium' }), loud({ priority: 'critical' })]);
    expect(bench.notifier().sounds('damp')).toBe(false);
    expect(bench.notifier().sounds('bank-low')).toBe(true);
  });
});
