import { describe, expect, test } from 'vitest';
import { ErrorBody } from '../../../shared/schema/api.ts';
import { MappingTrial, TopicView, ZeroView } from '../../../shared/schema/sensor-book.ts';
import { serverUnderTest } from './rig-under-test.ts';

describe('topics over HTTP', () => {
  test('a topic is given by its text, asked for anew each time, and is not there when it was not heard', async () => {
    const { app } = await serverUnderTest();
    const found = await app.inject({ url: `/api/topic?topic=${encodeURIComponent('rig/tank')}` });
    expect(found.headers['cache-control']).toBe('private, no-cache');
    expect(TopicView.parse(found.json()).fields).toMatchObject([{ format: 'number', number: 61 }]);
    const missing = await app.inject({ url: '/api/topic?topic=other' });
    expect([missing.statusCode, ErrorBody.parse(missing.json()).code]).toEqual([404, 'NOT_FOUND']);
    for (const url of ['/api/topic', '/api/topic?topic=', `/api/topic?topic=${'x'.repeat(513)}`]) expect((await app.inject({ url })).statusCode).toBe(400);
  });

  test('a mapping is tried with whatever stands in it, and a value that JSON cannot carry is none', async () => {
    const { app } = await serverUnderTest();
    const ask = (payload: object) => app.inject({ method: 'POST', url: '/api/try-mapping', payload });
    expect(MappingTrial.parse((await ask({ signal: 'tank.level', spec: { odd: [1] } })).json())).toMatchObject({ value: 61 });
    expect(MappingTrial.parse((await ask({ signal: 'bank.voltage', spec: null })).json())).toMatchObject({ value: null });
    expect((await ask({ signal: 'x'.repeat(97), spec: {} })).statusCode).toBe(400);
    expect((await ask({ signal: 'a', spec: {}, more: 1 })).statusCode).toBe(400);
    expect(
      (
        await app.inject({
          method: 'POST',
          url: '/api/try-mapping',
          headers: { 'content-type': 'application/json' },
          payload: '{"signal":"a","spec":{"__proto__":1}}',
        })
      ).statusCode,
    ).toBe(400);
  });

  test('a zero is asked for over a minute where nothing else is said, and for known names only', async () => {
    const { app } = await serverUnderTest();
    const asked = await app.inject({ url: '/api/zero?signal=bank.current' });
    expect(ZeroView.parse(asked.json())).toMatchObject({ readings: 60, nextOffset: -0.42 });
    expect(ZeroView.parse((await app.inject({ url: '/api/zero?signal=bank.current&seconds=300' })).json()).readings).toBe(300);
    expect((await app.inject({ url: '/api/zero?signal=bank.current&seconds=5' })).statusCode).toBe(400);
    const odd = await app.inject({ url: '/api/zero?signal=__proto__' });
    expect([odd.statusCode, odd.body.includes('__proto__')]).toEqual([404, false]);
  });

  test('a device that is not paired is told nothing', async () => {
    const { app } = await serverUnderTest({ loopback: false });
    for (const url of ['/api/topic?topic=rig/tank', '/api/zero?signal=bank.current']) expect((await app.inject({ url })).statusCode).toBe(401);
    expect((await app.inject({ method: 'POST', url: '/api/try-mapping', payload: { signal: 'a', spec: {} } })).statusCode).toBe(401);
  });
});
