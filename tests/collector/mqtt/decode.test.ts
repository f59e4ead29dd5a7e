import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { decodePayload } from '../../../collector/mqtt/decode.ts';
import type { SignalSource } from '../../../shared/schema/rig-file.ts';
import { QUANTITIES, UNIT_SYMBOLS } from '../../../shared/units.ts';
import { decode, json, value } from './decoding.ts';

describe('a bare number', () => {
  it.each([
    ['12.8', 12.8],
    [' 1.2e1', 12],
    ['-4', -4],
    ['+.5', 0.5],
    ['0', 0],
    ['-0', 0],
  ])('%j is %d', (payload, expected) => {
    expect(value(decode(payload))).toBe(expected);
  });

  it.each([
    ['12.8 V', 12.8],
    ['13.2V\r\n', 13.2],
    ['12.8 volts', 12.8],
  ])('P10 units glued on: %j is %d', (payload, expected) => {
    expect(value(decode(payload))).toBe(expected);
  });

  it.each(['-4 A', '12800 mV', '55 %', '24 °C'])('P10 units glued on: %j is no voltage in V', (payload) => {
    expect(value(decode(payload))).toBe('unit-mismatch');
  });

  it('P10 units glued on: the unit is checked against the one configured', () => {
    expect(value(decode('12800 mV', { unit: 'mV' }))).toBeCloseTo(12.8, 9);
    expect(value(decode('12.8 V', { unit: 'mV' }))).toBe('unit-mismatch');
    expect(value(decode('55 %', {}, 'humidity'))).toBe(55);
    expect(value(decode('75°F', { unit: 'degF' }, 'temperature'))).toBeCloseTo(23.889, 3);
  });

  it.each(['0x1F', '1.2.3', '12..8', '1e', '12.8 13.2', 'twelve', '12.8 V ok', '1_000', '12,8', '٣', '--4', '12.8\0junk'])(
    '%j is no number, not even its beginning',
    (payload) => {
      expect(value(decode(payload))).toBe('not-a-number');
    },
  );

  it.each(['nan', 'NaN', 'inf', '-Infinity', '1e999'])('P07 firmware prints %s: counted, nothing thrown', (payload) => {
    expect(value(decode(payload))).toBe('not-finite');
  });

  it.each(['', '  ', '\r\n', '\0\0', 'null'])('P08 battery reads 0 V: %j is no value, never zero', (payload) => {
    expect(value(decode(payload))).toBe('empty');
  });

  it('P11 a NUL from a C buffer is cut off with a remark', () => {
    expect(decode(Uint8Array.of(0x31, 0x32, 0x2e, 0x38, 0))).toMatchObject({ value: 12.8, remarks: ['trimmed'] });
    expect(decode('12.8')).toMatchObject({ remarks: [] });
  });

  it('takes a decimal comma only where the rig file says so, and one only', () => {
    expect(value(decode('12,8', { decimalComma: true }))).toBe(12.8);
    expect(value(decode('-12,8 V', { decimalComma: true }))).toBe(-12.8);
    expect(value(decode('1,234,5', { decimalComma: true }))).toBe('not-a-number');
  });

  it('refuses text that is no UTF-8 and payloads beyond 16 KiB', () => {
    expect(value(decode(Uint8Array.of(0x31, 0xff)))).toBe('not-utf8');
    expect(value(decode('1'.repeat(16 * 1024 + 1)))).toBe('too-large');
  });
});

describe('scale, offset, unit and sign', () => {
  it('come in this order', () => {
    expect(value(decode('100', { scale: 2, offset: 50, unit: 'mA', chargingIs: 'negative' }, 'current'))).toBeCloseTo(-0.25, 12);
    expect(value(decode('32', { unit: 'degF' }, 'temperature'))).toBeCloseTo(0, 12);
    expect(value(decode('273.15', { unit: 'K' }, 'temperature'))).toBe(0);
    expect(value(decode('1.5', { unit: 'kW' }, 'power'))).toBe(1500);
  });

  it('keep the number as the board sends it beside the value', () => {
    expect(decode('4200', { unit: 'mA' }, 'current')).toMatchObject({ raw: 4200, value: 4.2 });
  });

  it('turn a negative zero into zero', () => {
    expect(Object.is(value(decode('0', { chargingIs: 'negative' }, 'current')), 0)).toBe(true);
  });
});

describe('flags and modes', () => {
  it.each([
    ['true', 1],
    ['ON', 1],
    ['1', 1],
    ['off', 0],
    ['0', 0],
    ['blocked', 0],
    ['2', 'not-a-mode'],
    ['maybe', 'not-a-mode'],
  ])('a flag %j is %j', (payload, expected) => {
    expect(value(decode(payload, {}, 'flag'))).toBe(expected);
    expect(value(decode(JSON.stringify({ f: payload }), json('/f'), 'flag'))).toBe(expected);
  });
  it('a flag comes as a JSON boolean too, a voltage does not', () => {
    expect(value(decode('{"f":true}', json('/f'), 'flag'))).toBe(1);
    expect(value(decode('{"f":true}', json('/f')))).toBe('not-a-number');
  });
  it.each([
    ['cool', 1],
    ['Heat', 2],
    ['fan only', 4],
    ['5', 5],
    ['6', 'not-a-mode'],
    ['1.5', 'not-a-mode'],
    ['eco', 'not-a-mode'],
  ])('a mode %j is %j', (payload, expected) => {
    expect(value(decode(payload, {}, 'mode'))).toBe(expected);
  });
});

describe('a JSON field', () => {
  it('is found by its RFC 6901 pointer', () => {
    expect(value(decode('{"a/b":{"m~n":[1,{"v":2}]}}', json('/a~1b/m~0n/1/v')))).toBe(2);
    expect(value(decode('12.8', json('')))).toBe(12.8);
    expect(value(decode('{"":3}', json('/')))).toBe(3);
    expect(value(decode('{"v":[1,2]}', json('/v/01')))).toBe('no-such-field');
    expect(value(decode('{"v":1}', json('/w')))).toBe('no-such-field');
    expect(value(decode('{"v":"12.8 V"}', json('/v')))).toBe(12.8);
  });

  it.each(['{"v":null}', '{"v":""}', '{"v":"  "}', 'null', ''])('P08 battery reads 0 V: %j is no value, never zero', (payload) => {
    expect(value(decode(payload, json('/v')))).toBe('empty');
  });

  it.each(['{"v":nan}', '{"v":12,8}', '{"v":12.8', "{'v':1}", 'nan'])('P07 %j is no JSON, and nothing is thrown', (payload) => {
    expect(value(decode(payload, json('/v')))).toBe('bad-json');
  });

  it('P07 a number too large for a double is not finite', () => {
    expect(value(decode('{"v":1e999}', json('/v')))).toBe('not-finite');
  });

  it('P29 log explodes: nesting is capped before parsing, size before that', () => {
    const nested = (depth: number) => `{"v":1,"n":${'['.repeat(depth)}${']'.repeat(depth)}}`;
    expect(value(decode(nested(1e5), json('/v')))).toBe('too-large');
    expect(value(decode(nested(7000), json('/v')))).toBe('too-deep');
    expect(value(decode(nested(31), json('/v')))).toBe(1);
    expect(value(decode(`{"v":1,"n":"${'['.repeat(200)}\\"["}`, json('/v')))).toBe(1);
  });

  it('P32 odd flags appear on a parsed object: __proto__ in a payload is a key like any other and changes nothing', () => {
    expect(value(decode('{"__proto__":{"ok":true,"v":1},"v":12.8}', json('/v')))).toBe(12.8);
    expect(value(decode('{"v":1}', json('/__proto__/ok')))).toBe('no-such-field');
    expect(value(decode('{"v":1}', json('/constructor/name')))).toBe('no-such-field');
    expect(({} as Record<string, unknown>).ok).toBeUndefined();
  });

  it('P37 duplicate keys: the last one counts, with a remark', () => {
    expect(decode('{"v":12.8,"v":3.1}', json('/v'))).toMatchObject({ value: 3.1, remarks: ['duplicate-key'] });
    expect(decode('{"v":12.8,"s":"a:b","n":[{"v":1},{"v":2}]}', json('/v'))).toMatchObject({ remarks: [] });
  });

  it("gives the board's own message counter", () => {
    expect(decode('{"v":1,"n":7}', json('/v', { sequencePointer: '/n' }))).toMatchObject({ sequence: 7 });
    expect(decode('{"v":1,"n":"a7"}', json('/v', { sequencePointer: '/n' }))).toMatchObject({ sequence: 'a7' });
    expect(decode('{"v":1,"n":{}}', json('/v', { sequencePointer: '/n' }))).toMatchObject({ sequence: null });
  });
});

describe('the decoder is total', () => {
  const anySource = fc.record({
    topic: fc.string(),
    format: fc.constantFrom('number', 'json', 'senml'),
    scale: fc.double(),
    offset: fc.double(),
    chargingIs: fc.constantFrom('positive', 'negative'),
    decimalComma: fc.boolean(),
    reject: fc.array(fc.double()),
    powerOn: fc.array(fc.double()),
    saturatesAt: fc.array(fc.double()),
    pointer: fc.option(fc.oneof(fc.string(), fc.constantFrom('', '/v', '/0/v', '/__proto__')), { nil: undefined }),
    name: fc.option(fc.string(), { nil: undefined }),
    unit: fc.option(fc.oneof(fc.string(), fc.constantFrom(...UNIT_SYMBOLS)), { nil: undefined }),
    timePointer: fc.option(fc.constantFrom('/t', 'x', '/t/0'), { nil: undefined }),
    sequencePointer: fc.option(fc.constantFrom('/n', ''), { nil: undefined }),
  }) as unknown as fc.Arbitrary<SignalSource>;
  const bytes = fc.oneof(
    fc.uint8Array({ maxLength: 300 }),
    fc.string({ unit: 'binary' }).map((text) => Buffer.from(text)),
    fc.json().map((text) => Buffer.from(text)),
    fc
      .array(fc.record({ n: fc.anything(), v: fc.anything(), t: fc.anything(), bn: fc.anything(), bt: fc.anything() }, { requiredKeys: [] }))
      .map((pack) => Buffer.from(JSON.stringify(pack) ?? '')),
    fc.tuple(fc.double(), fc.string()).map(([number, tail]) => Buffer.from(`${number}${tail}`)),
  );

  it('no bytes and no source make it throw, and what it gives is finite', () => {
    fc.assert(
      fc.property(bytes, anySource, fc.constantFrom(...QUANTITIES), fc.double(), (payload, source, quantity, arrivalMs) => {
        const decoded = decodePayload(payload, source, quantity, arrivalMs);
        if (decoded.ok) {
          expect(Number.isFinite(decoded.value) && Number.isFinite(decoded.raw)).toBe(true);
          if (decoded.timeMs !== null) expect(Number.isInteger(decoded.timeMs)).toBe(true);
        } else expect(typeof decoded.reason).toBe('string');
      }),
      { numRuns: 3000 },
    );
  });

  it('reads back every finite number that a board prints', () => {
    fc.assert(
      fc.property(fc.double({ noNaN: true, noDefaultInfinity: true }), (number) => {
        expect(value(decode(`${number}`))).toBe(number + 0);
      }),
    );
  });
});
