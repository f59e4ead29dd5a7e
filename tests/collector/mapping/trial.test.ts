import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { MappingTrial, TopicView } from '../../../shared/schema/sensor-book.ts';
import { bench, rigFile, T0 } from '../ingest/rig.ts';

const tried = (payload: unknown, signal: string, spec: unknown, cells = 8) => {
  const { pipeline, send } = bench({}, cells);
  send('x/y', payload, 0);
  return MappingTrial.parse(pipeline.tryMapping({ signal, spec }));
};

describe('a mapping on trial', () => {
  it('is read by the decoder that would read it, and shows when the message came', () => {
    expect(tried({ i: 4200 }, 'bank.current', { topic: 'x/y', format: 'json', pointer: '/i', unit: 'mA', chargingIs: 'negative', offset: 200 })).toEqual({
      value: -4.4,
      unit: 'A',
      quantity: 'current',
      tMs: T0,
      rejected: null,
      remarks: [],
      doubt: '',
      mistakes: [],
    });
    expect(tried('12 °C', 'tank.temperature', { topic: 'x/y', unit: 'Cel' })).toMatchObject({ value: 12, quantity: 'temperature' });
    expect(tried([{ n: 'o', v: 70.2, u: '%RH' }], 'outside.humidity', { topic: 'x/y', format: 'senml', name: 'o' })).toMatchObject({ value: 70.2 });
  });

  it('says why there is no value', () => {
    expect(tried({ i: 1 }, 'bank.current', { topic: 'x/y', format: 'json', pointer: '/a' })).toMatchObject({ value: null, rejected: 'no-such-field' });
    expect(tried('-127', 'cabin.temperature', { topic: 'x/y' })).toMatchObject({ value: null, rejected: 'sentinel' });
    expect(tried('500', 'cabin.humidity', { topic: 'x/y' })).toMatchObject({ value: 500, rejected: 'out-of-range' });
    expect(tried('1', 'bank.current', { topic: 'never/heard' })).toMatchObject({
      value: null,
      tMs: null,
      unit: 'A',
      doubt: 'No message of this topic has been heard yet.',
    });
  });

  it('names every mistake by its field instead of refusing', () => {
    const { mistakes } = tried('1', 'bank.current', { topic: 'x/y', unit: 'W', scale: 'two' });
    expect(mistakes.map(({ path, expected }) => [path, expected])).toEqual([
      ['scale', 'a number'],
      ['unit', 'a unit of current, such as A'],
    ]);
    for (const spec of [null, 7, {}, [], 'x']) expect(tried('1', 'bank.current', spec).mistakes).not.toEqual([]);
    for (const signal of ['__proto__', 'a.constructor', 'weather.forecast', '', 'Cabin'])
      expect(tried('1', signal, { topic: 'x/y' }).mistakes[0]?.path).toBe('signal');
    expect(tried('1', 'tank.level', { topic: 'x/y' }).mistakes[0]?.path).toBe('unit');
  });

  it('doubts what is hard to believe, and says what would fit better', () => {
    expect(tried('13.2', 'bank.voltage', { topic: 'x/y' }).doubt).toMatch(/1\.65 V a cell; a bank of 8 cells shows 20 to 29\.2 V/);
    expect(tried('74', 'cabin.temperature', { topic: 'x/y' }).doubt).toMatch(/In degF it would be 23\.33 degrees/);
    expect(tried('0.71', 'bank.stateOfCharge', { topic: 'x/y' }).doubt).toMatch(/scale to 100/);
    expect(tried('1.24', 'panels.power', { topic: 'x/y' }).doubt).toMatch(/kW.*1240 W/);
    expect(tried('12400', 'bank.current', { topic: 'x/y' })).toMatchObject({ rejected: 'out-of-range', doubt: expect.stringMatching(/unit: mA/) });
    expect(tried('85', 'cabin.temperature', { topic: 'x/y' }).doubt).toMatch(/before its first measurement/);
    expect(tried('26.3', 'bank.voltage', { topic: 'x/y' }).doubt).toBe('');
  });

  it('of a sum adds what the topics last said, once all have spoken', () => {
    const { pipeline, send } = bench();
    const question = { signal: 'panels.power', spec: { sum: [{ topic: 'e' }, { topic: 'w' }] } };
    send('e', '300', 0);
    expect(pipeline.tryMapping(question)).toMatchObject({ value: null });
    send('w', '150', 1);
    expect(pipeline.tryMapping(question)).toMatchObject({ value: 450, tMs: T0 });
  });

  it('cannot be made to throw, by no spec and no payload', () => {
    const { pipeline, send } = bench();
    const spec = fc.oneof(
      fc.object(),
      fc.record({ topic: fc.constant('x'), format: fc.constantFrom('number', 'json', 'senml'), pointer: fc.string(), name: fc.string() }),
    );
    fc.assert(
      fc.property(fc.string(), spec, fc.uint8Array({ maxLength: 40 }), (signal, given, payload) => {
        send('x', payload, 0);
        MappingTrial.parse(pipeline.tryMapping({ signal, spec: given }));
      }),
    );
  });
});

describe('a topic on the screen', () => {
  it('shows its last message, taken apart, with who reads what', () => {
    const { pipeline, send } = bench();
    send('rig/shunt', { v: 13.2, i: -4, soc: 70 }, 0);
    send('rig/shunt', { v: 13.1, i: -5, soc: 70 }, 7);
    const view = TopicView.parse(pipeline.topic('rig/shunt'));
    expect(view).toMatchObject({ count: 2, lastMs: T0 + 7000, retained: false, isCut: false, payload: '{"v":13.1,"i":-5,"soc":70}' });
    expect(view.fields.map(({ pointer, usedBy }) => [pointer, usedBy])).toEqual([
      ['/v', 'bank.voltage'],
      ['/i', 'bank.current'],
      ['/soc', null],
    ]);
    expect(view.fields[2]?.likely[0]?.signal).toBe('bank.stateOfCharge');
    expect(pipeline.topic('never')).toBeNull();
  });

  it('is found by the name it is shown under, and named by its exact text', () => {
    const { pipeline, send } = bench();
    send('a\u0007\\b', '1', 0);
    const [shown] = pipeline.report(T0).unmapped;
    expect(pipeline.topic(shown?.topic ?? '')?.topic).toBe('a\u0007\\b');
    expect(pipeline.topic('a\u0007\\b')?.topic).toBe('a\u0007\\b');
  });

  it('goes on being known when it becomes mapped, and when it no longer is', () => {
    const { pipeline, send } = bench();
    send('tank', '61', 0);
    pipeline.replaceFile(rigFile({ 'tank.level': { topic: 'tank', quantity: 'humidity' } }));
    expect(pipeline.topic('tank')?.fields[0]?.usedBy).toBe('tank.level');
    expect(pipeline.report(T0).unmapped).toEqual([]);
    pipeline.replaceFile(rigFile());
    expect(pipeline.report(T0).unmapped.map(({ topic, count }) => [topic, count])).toEqual([['tank', 1]]);
  });
});
