import { describe, expect, it } from 'vitest';
import { createPipeline } from '../../../collector/ingest/pipeline.ts';
import { bench, brief, rigFile, T0 } from './rig.ts';

const cabin = { 'cabin.temperature': { topic: 'rig/temp/cabin', every: '2 s' } };
const air = { 'cabin.temperature': { topic: 'rig/air', format: 'json', pointer: '/t' }, 'cabin.humidity': { topic: 'rig/air', format: 'json', pointer: '/h' } };

describe('P01 cabin shows 85.0 after every board reboot', () => {
  it('is suspect when its neighbours do not agree', () => {
    const { send, health } = bench(cabin);
    expect(brief(send('rig/temp/cabin', '24.5', 0))).toEqual(['cabin.temperature 24.5 ok']);
    expect(brief(send('rig/temp/cabin', '85.0', 2))).toEqual(['cabin.temperature 85 suspect power-on-value']);
    expect(health('cabin.temperature').note).toContain('restarted');
    expect(brief(send('rig/temp/cabin', '24.6', 4))).toEqual(['cabin.temperature 24.6 ok']);
    expect(health('cabin.temperature').note).toBe('');
  });

  it('is suspect as the first value ever, and in degF', () => {
    expect(brief(bench(cabin).send('rig/temp/cabin', '85', 0))).toEqual(['cabin.temperature 85 suspect power-on-value']);
    const { send } = bench({ 'cabin.temperature': { topic: 'rig/temp/cabin', unit: 'degF' } });
    expect(send('rig/temp/cabin', '185.0', 0)[0]).toMatchObject({ quality: 'suspect', reason: 'power-on-value' });
    expect(send('rig/temp/cabin', '85', 10)[0]).toMatchObject({ quality: 'ok' });
  });

  it('is taken when the readings before approach it', () => {
    const { send } = bench({ 'inverter.temperature': { topic: 't', unit: 'Cel' } });
    for (const [i, value] of ['80', '82', '84'].entries()) send('t', value, i * 10);
    expect(brief(send('t', '85', 30))).toEqual(['inverter.temperature 85 ok']);
  });

  it('is taken when it persists', () => {
    const { send } = bench({ 'inverter.temperature': { topic: 't', unit: 'Cel' } });
    send('t', '20', 0);
    const qualities = Array.from({ length: 10 }, (_, i) => send('t', '85', 10 + i * 10)[0]?.quality);
    expect(qualities.slice(0, 6)).toEqual(Array(6).fill('suspect'));
    expect(qualities.at(-1)).toBe('ok');
  });

  it('holds for values that the rig file lists, before a calibration is applied', () => {
    const { send } = bench({ 'cabin.humidity': { topic: 'h', powerOn: [50] }, 'cabin.temperature': { topic: 't', offset: -1.5 } });
    send('h', '71', 0);
    expect(send('h', '50', 10)[0]).toMatchObject({ reason: 'power-on-value' });
    expect(send('t', '85', 0)[0]).toMatchObject({ reason: 'power-on-value' });
  });
});

describe('P02 temperature falls to -127', () => {
  it.each(['-127', '-127.00', '"-127"'])('%s is a fault of the sensor, not a temperature', (payload) => {
    const { send, pipeline, health } = bench(cabin);
    send('rig/temp/cabin', '24.5', 0);
    expect(send('rig/temp/cabin', payload, 2)).toEqual([]);
    expect(health('cabin.temperature')).toMatchObject({ rejected: { sentinel: 1 }, note: expect.stringContaining('wiring') });
    expect(pipeline.latest(T0 + 2000).get('cabin.temperature')).toMatchObject({ value: 24.5, quality: 'bad', reason: 'sentinel' });
  });

  it('is met in degF and K, and other driver codes and listed numbers as well', () => {
    const { send, health } = bench({
      'cabin.temperature': { topic: 'f', unit: 'degF' },
      'outside.temperature': { topic: 'c' },
      'bank.temperature': { topic: 'k', unit: 'K' },
      'cabin.humidity': { topic: 'h', reject: [99.9] },
    });
    for (const [topic, payload] of [
      ['f', '-196.6'],
      ['c', '-254'],
      ['k', '146.15'],
      ['h', '99.9'],
    ] as const)
      expect(send(topic, payload, 0)).toEqual([]);
    for (const signal of ['cabin.temperature', 'outside.temperature', 'bank.temperature', 'cabin.humidity'])
      expect(health(signal).rejected).toEqual({ sentinel: 1 });
  });

  it('leaves the shunt in the same message alone', () => {
    const { send } = bench({ 'bank.temperature': { topic: 'rig/shunt', format: 'json', pointer: '/t' } });
    expect(brief(send('rig/shunt', { v: 13.1, i: -5, t: -127 }, 0))).toEqual(['bank.voltage 13.1 ok', 'bank.current -5 ok']);
  });
});

describe('P04, P05 one bad field of a chip', () => {
  it.each([
    ['P04 -140.7 and 100 % together', { t: -140.71, h: 100, p: 577.33 }],
    ['P05 181.6 and 0 %', { t: 181.6, h: 0 }],
    ['a humidity beyond 100 %', { t: 22, h: 140 }],
  ])('%s: the whole chip is rejected', (_, payload) => {
    const { send, health } = bench(air);
    expect(send('rig/air', payload, 0)).toEqual([]);
    const reasons = [health('cabin.temperature'), health('cabin.humidity')].flatMap(({ rejected }) => Object.keys(rejected));
    expect(reasons.sort()).toEqual(['out-of-range', 'sibling-bad']);
    expect(brief(send('rig/air', { t: 22, h: 50 }, 10))).toHaveLength(2);
  });

  it('P05 nan in JSON rejects all fields of the message', () => {
    expect(bench(air).send('rig/air', '{"t":nan,"h":0}', 0)).toEqual([]);
  });

  it('other chips in the message, and the same chip in the next one, are not tainted', () => {
    const { send } = bench({
      'cabin.temperature': { topic: 'rig/all', format: 'json', pointer: '/cabin/t' },
      'cabin.humidity': { topic: 'rig/all', format: 'json', pointer: '/cabin/h' },
      'outside.temperature': { topic: 'rig/all', format: 'json', pointer: '/outside/t' },
      'panels.voltage': { topic: 'rig/all', format: 'json', pointer: '/v' },
    });
    expect(brief(send('rig/all', { cabin: { t: 181.6, h: 0 }, outside: { t: 12 }, v: 40 }, 0))).toEqual(['outside.temperature 12 ok', 'panels.voltage 40 ok']);
  });

  it('a SenML pack of one chip is tainted by its base name', () => {
    const { send } = bench({
      'cabin.temperature': { topic: 's', format: 'senml', name: 'cabin:t' },
      'cabin.humidity': { topic: 's', format: 'senml', name: 'cabin:h' },
      'outside.humidity': { topic: 's', format: 'senml', name: 'roof:h' },
    });
    expect(
      brief(
        send(
          's',
          [
            { bn: 'cabin:', n: 't', v: -140 },
            { n: 'h', v: 100 },
            { bn: 'roof:', n: 'h', v: 60 },
          ],
          0,
        ),
      ),
    ).toEqual(['outside.humidity 60 ok']);
  });
});

describe('P13 a thousand times too much current', () => {
  const shunt = { 'bank.current': { topic: 'rig/shunt', format: 'json', pointer: '/i', range: [-150, 150] } };
  it('is refused, and after some the unit is suggested, never guessed; the voltage beside it is kept', () => {
    const { send, health } = bench(shunt);
    for (let i = 0; i < 4; i++) expect(brief(send('rig/shunt', { v: 13, i: 4200 + i }, i))).toEqual(['bank.voltage 13 ok']);
    expect(health('bank.current').note).toBe('');
    for (let i = 4; i < 8; i++) send('rig/shunt', { v: 13, i: 4200 + i }, i);
    expect(health('bank.current')).toMatchObject({
      rejected: { 'out-of-range': 8 },
      remarks: { 'unit-suggested': 4 },
      note: expect.stringContaining('unit: mA'),
    });
  });

  it('is not suggested for a glitch or for values that a thousandth would not fit', () => {
    const { send, health } = bench(shunt);
    for (let i = 0; i < 20; i++) send('rig/shunt', { v: 13, i: i % 2 ? 4200 : 4 }, i);
    for (let i = 20; i < 40; i++) send('rig/shunt', { v: 13, i: 9e9 }, i);
    expect(health('bank.current').note).toBe('');
  });

  it('needs no range in the rig file: the bank and the inverter set one, and surges stay within it', () => {
    const { send } = bench();
    expect(brief(send('rig/shunt', { v: 13, i: -590 }, 0))).toContain('bank.current -590 ok');
    expect(brief(send('rig/shunt', { v: 13, i: -610 }, 1))).toEqual(['bank.voltage 13 ok']);
    const large = createPipeline({ ...rigFile(), inverter: { ratedWatts: 3000, surgeWatts: 9000, idleWatts: 20 } });
    const taken = (amps: number) => large.accept({ tMs: T0, topic: 'rig/shunt', payload: Buffer.from(`{"v":12,"i":${amps}}`), retained: false }).readings;
    expect([taken(-1040), taken(-1060)].map(({ length }) => length)).toEqual([2, 1]);
  });

  it('large values between those that are refused are not believed either', () => {
    const { send } = bench();
    for (let i = 0; i < 6; i++) send('rig/shunt', { v: 13, i: -4200 - i }, i);
    expect(brief(send('rig/shunt', { v: 13, i: -300 }, 6))).toContain('bank.current -300 suspect unit');
    expect(brief(send('rig/shunt', { v: 13, i: -20 }, 7))).toContain('bank.current -20 ok');
  });

  it('what no load of the rig can draw for more than a minute is not believed until ten minutes after it ends', () => {
    const { send, health } = bench();
    const at = (amps: number, s: number) => brief(send('rig/shunt', { v: 13, i: amps }, s))[1];
    expect(at(-550, 0)).toBe('bank.current -550 ok');
    expect(at(-5, 10)).toBe('bank.current -5 ok');
    for (let s = 20; s < 80; s += 10) expect(at(-500, s)).toBe('bank.current -500 ok');
    expect(at(-500, 80)).toBe('bank.current -500 suspect unit');
    expect(health('bank.current').note).toMatch(/-500 A for more than a minute.*450 A.*unit: mA/);
    expect(at(-90, 90)).toBe('bank.current -90 suspect unit');
    expect(at(-90, 670)).toBe('bank.current -90 suspect unit');
    expect(at(-90, 680)).toBe('bank.current -90 ok');
    expect(health('bank.current').note).toBe('');
  });

  it('the reverse: a board that sends A on a topic set to mA looks idle, and the unit is suggested', () => {
    const { send, health } = bench({ 'bank.current': { topic: 'rig/shunt', format: 'json', pointer: '/i', unit: 'mA' } });
    for (let i = 0; i < 300; i++) send('rig/shunt', { v: 13, i: -20.5 - (i % 40) }, i);
    expect(health('bank.current').note).toContain('unit: A');
  });
});

describe('P16, P19 a clipped input', () => {
  it('P16 a run of readings at the full scale of a shunt amplifier is saturated', () => {
    const { send, health } = bench();
    const last = Array.from({ length: 20 }, (_, i) => send('rig/shunt', { v: 12.9, i: -109.2 }, i)[1]).at(-1);
    expect(last).toMatchObject({ signal: 'bank.current', value: -109.2, quality: 'suspect', reason: 'saturated' });
    expect(health('bank.current').note).toContain('clips');
    expect(send('rig/shunt', { v: 13, i: -40.3 }, 30)[1]).toMatchObject({ quality: 'ok' });
  });

  it('P16 so is a flat top above readings that vary finely, whatever its height', () => {
    const { send } = bench();
    for (let i = 0; i < 40; i++) send('rig/shunt', { v: 13, i: -20 - i * 0.11 }, i);
    const tops = Array.from({ length: 12 }, (_, i) => send('rig/shunt', { v: 12.5, i: -62.41 }, 40 + i)[1]?.reason);
    expect(tops.at(-1)).toBe('saturated');
  });

  it('a steady small load, or a coarse board at its steady maximum, is not', () => {
    const { send } = bench();
    for (let i = 0; i < 60; i++) send('rig/shunt', { v: 13, i: -(i % 40) }, i);
    const steady = Array.from({ length: 30 }, (_, i) => send('rig/shunt', { v: 12.5, i: -40 }, 60 + i)[1]?.quality);
    const small = Array.from({ length: 30 }, (_, i) => send('rig/shunt', { v: 13, i: -3.1 }, 100 + i)[1]?.quality);
    expect(new Set([...steady, ...small])).toEqual(new Set(['ok']));
  });

  it('P19 the top count of a converter, a pin at its rail, and a listed value are saturated', () => {
    const { send } = bench({
      'panels.voltage': { topic: 'adc', scale: 0.012 },
      'panels.current': { topic: 'pin', scale: 12 },
      'panels.power': { topic: 'listed', saturatesAt: [800] },
    });
    expect(send('adc', '4095', 0)[0]).toMatchObject({ reason: 'saturated' });
    expect(send('adc', '4000', 1)[0]).toMatchObject({ quality: 'ok' });
    expect(Array.from({ length: 5 }, (_, i) => send('pin', `3.1${i % 4}`, i)[0]?.quality)).toEqual(['ok', 'ok', 'ok', 'ok', 'suspect']);
    expect(send('listed', '800', 0)[0]).toMatchObject({ reason: 'saturated' });
  });
});

describe('ranges', () => {
  it('are the physical ones of the signal, or those of the rig file', () => {
    const { send, health } = bench({
      'cabin.temperature': { topic: 'a' },
      'outside.temperature': { topic: 'b', range: [-10, 45] },
      'tank.level': { topic: 'c', quantity: 'humidity' },
    });
    for (const [topic, payload] of [
      ['a', '81'],
      ['b', '-11'],
      ['c', '103'],
    ] as const)
      expect(send(topic, payload, 0)).toEqual([]);
    expect(health('tank.level').rejected).toEqual({ 'out-of-range': 1 });
    expect(brief(send('b', '45', 1))).toEqual(['outside.temperature 45 ok']);
  });

  it('of the voltage of a bank follow its cells in series', () => {
    const { send, health } = bench({}, 4);
    expect(brief(send('rig/shunt', { v: 17.9, i: 1 }, 0))).toEqual(['bank.voltage 17.9 ok', 'bank.current 1 ok']);
    expect(brief(send('rig/shunt', { v: 131, i: 1 }, 1))).toEqual(['bank.current 1 ok']);
    expect(health('bank.voltage').rejected).toEqual({ 'out-of-range': 1 });
  });

  it('below absolute zero is refused before the unit is converted', () => {
    const { send, health } = bench({ 'exhaust.temperature': { topic: 'a', unit: 'K' } });
    expect(send('a', '-3', 0)).toEqual([]);
    expect(health('exhaust.temperature').rejected).toEqual({ 'out-of-range': 1 });
    expect(send('a', '400', 0)[0]?.value).toBeCloseTo(126.85, 9);
  });
});

describe('a sensor that overshoots the end of its scale', () => {
  it.each([
    ['101.9', 100],
    ['-1.5', 0],
    ['99', 99],
  ])('humidity and state of charge of %s are taken as %d', (payload, value) => {
    const { send } = bench({ 'cabin.humidity': { topic: 'h' }, 'bank.stateOfCharge': { topic: 's' } });
    expect(send('h', payload, 0)).toMatchObject([{ value, quality: 'ok' }]);
    expect(send('s', payload, 0)).toMatchObject([{ value, quality: 'ok' }]);
  });

  it('further off, or beyond a range of the rig file, it is refused', () => {
    const { send } = bench({ 'cabin.humidity': { topic: 'h' }, 'outside.humidity': { topic: 'o', range: [0, 100] } });
    expect([...send('h', '102.5', 0), ...send('h', '-2.5', 1), ...send('o', '101', 2)]).toEqual([]);
  });
});
