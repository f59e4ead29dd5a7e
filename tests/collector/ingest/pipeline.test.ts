import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { createPipeline } from '../../../collector/ingest/pipeline.ts';
import { SensorsReport } from '../../../shared/schema/api.ts';
import { SignalInfo, SignalState } from '../../../shared/schema/live.ts';
import { Reading } from '../../../shared/schema/reading.ts';
import { bench, rigFile, T0 } from './rig.ts';

describe('P07 service exits at night', () => {
  it('what a board sends is counted by signal and reason and ends nothing', () => {
    const { send, pipeline, health } = bench();
    for (const payload of ['nan', '{"v":nan}', '', '[', '{"v":13,"i":"x"}', Buffer.from([0xff])]) send('rig/shunt', payload, 0);
    expect(health('bank.voltage').rejected).toEqual({ 'bad-json': 3, empty: 1, 'not-utf8': 1 });
    expect(health('bank.current').rejected).toMatchObject({ 'not-a-number': 1 });
    expect(pipeline.health()).toMatchObject({ messages: 6, readings: 1, rejected: 11 });
    expect(pipeline.health().rejectedByReason.get('bad-json')).toBe(6);
  });

  it('no message at all makes it throw, and what it gives fits the schemas', () => {
    const signals = {
      'cabin.temperature': { topic: 'a' },
      'cabin.humidity': { topic: 'j', format: 'json', pointer: '/h', timePointer: '/t', sequencePointer: '/n' },
      'outside.temperature': { topic: 's', format: 'senml', name: 'o' },
      'panels.power': { sum: [{ topic: 'a' }, { topic: 'b' }] },
      'minisplit.mode': { topic: 'b' },
      'weather.forecast': { topic: 'f' },
    };
    const { pipeline } = bench(signals);
    const payload = fc.oneof(
      fc.uint8Array({ maxLength: 80 }),
      fc.json().map((text) => Buffer.from(text)),
      fc.double().map((number) => Buffer.from(`${number}`)),
    );
    const topic = fc.oneof(fc.constantFrom('a', 'b', 'j', 's', 'f', 'rig/shunt', '__proto__', '$SYS/x'), fc.string());
    fc.assert(
      fc.property(topic, payload, fc.boolean(), fc.integer({ min: 0, max: 86_400 }), (name, bytes, retained, atS) => {
        for (const reading of pipeline.accept({ tMs: T0 + atS * 1000, topic: name, payload: bytes, retained }).readings) Reading.parse(reading);
      }),
      { numRuns: 2000 },
    );
    SensorsReport.parse(pipeline.report(T0));
    for (const state of pipeline.states(T0)) SignalState.parse(state);
    for (const info of pipeline.infos()) SignalInfo.parse(info);
  });
});

describe('counts', () => {
  it('begin anew where what was made up for ends; what is known of the signals stays', () => {
    const { send, pipeline, health } = bench({ 'weather.forecast': { topic: 'f' } });
    send('rig/shunt', '{"v":13,"i":1}', 0);
    for (const topic of ['rig/shunt', 'f']) send(topic, '{"v":', 1);
    pipeline.countAnew();
    expect(pipeline.health()).toMatchObject({ messages: 0, readings: 0, rejected: 0, lastMessageMs: T0 + 1000 });
    expect(pipeline.health().rejectedByReason.size).toBe(0);
    for (const name of ['bank.voltage', 'weather.forecast']) expect(health(name).rejected).toEqual({});
    expect(pipeline.states(T0)[0]).toMatchObject({ value: 13, received: 0, rejected: 0 });
    send('rig/shunt', '{"v":13.1,"i":1}', 2);
    expect(pipeline.health()).toMatchObject({ messages: 1, readings: 2 });
    expect(pipeline.states(T0)[0]).toMatchObject({ value: 13.1, received: 1 });
  });
});

describe('a new rig file', () => {
  it('goes on with counters, and with values of signals read as before', () => {
    const pipeline = createPipeline(rigFile({ 'cabin.temperature': { topic: 'a' } }));
    const send = (topic: string, payload: string) => pipeline.accept({ tMs: T0, topic, payload: Buffer.from(payload), retained: false }).readings;
    send('rig/shunt', '{"v":13,"i":1}');
    send('a', '21');
    send('b', '22');
    expect(pipeline.report(T0).unmapped).toHaveLength(1);
    pipeline.replaceFile(rigFile({ 'cabin.temperature': { topic: 'b' } }));
    expect(pipeline.latest(T0).has('bank.voltage')).toBe(true);
    expect(pipeline.latest(T0).has('cabin.temperature')).toBe(false);
    // What was mapped and is no more can be mapped again.
    expect(pipeline.report(T0).unmapped.map(({ topic }) => topic)).toEqual(['a']);
    const [reading] = send('b', '23');
    expect(reading).toMatchObject({ value: 23, arrivalSeq: 3 });
    expect(pipeline.states(T0)[2]).toMatchObject({ received: 2, freshness: 'fresh' });
    expect(pipeline.health()).toMatchObject({ messages: 4, readings: 4 });
  });
});
