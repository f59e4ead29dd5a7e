import { describe, expect, it } from 'vitest';
import { bench, T0 } from './rig.ts';

describe('a weather forecast', () => {
  const forecast = { 'weather.forecast': { topic: 'f', pointer: '/data' } };
  const points = [{ tMs: T0 + 3_600_000, airTempC: 20, cloudFrac: 0.2 }];
  it('comes as its own message, retained or not, and gives no readings', () => {
    const { pipeline } = bench(forecast);
    const payload = Buffer.from(JSON.stringify({ data: { issuedMs: T0, points } }));
    expect(pipeline.accept({ tMs: T0, topic: 'f', payload, retained: true })).toEqual({ readings: [], forecast: { issuedMs: T0, points }, clockMs: null });
  });

  it.each([
    ['in the future', { issuedMs: T0 + 1e7, points }],
    ['without points', { issuedMs: T0, points: [] }],
    ['with an impossible temperature', { issuedMs: T0, points: [{ tMs: 1, airTempC: 200 }] }],
  ])('one %s is refused and counted', (_, data) => {
    const { send, health } = bench(forecast);
    send('f', { data }, 0);
    expect(health('weather.forecast').rejected).toEqual({ 'bad-forecast': 1 });
  });

  it('may be up to 64 KiB long, no longer', () => {
    const { send, health } = bench(forecast);
    send('f', { data: { issuedMs: T0, points }, more: 'x'.repeat(60_000) }, 0);
    expect(health('weather.forecast').rejected).toEqual({});
    send('f', { data: { issuedMs: T0, points }, more: 'x'.repeat(70_000) }, 0);
    expect(health('weather.forecast').rejected).toEqual({ 'too-large': 1 });
  });
});
