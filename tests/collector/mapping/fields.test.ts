import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { closeJson } from '../../../collector/mapping/close-json.ts';
import { fieldsOf } from '../../../collector/mapping/fields.ts';
import { decodable, nothingHeard, REMEMBERED_BYTES, remember } from '../../../collector/mapping/remembered.ts';
import { parsePointer, resolvePointer } from '../../../collector/mqtt/pointer.ts';

const T0 = Date.UTC(2026, 5, 1, 22);
const bytes = (payload: unknown) => Buffer.from(typeof payload === 'string' ? payload : JSON.stringify(payload));
const fields = (payload: unknown) => fieldsOf(bytes(payload), T0).map(({ pointer, name, text, number, unit }) => [pointer ?? name ?? '', text, number, unit]);

describe('fields of a payload', () => {
  it('are the leaves of a JSON value by RFC 6901 pointers', () => {
    expect(fields({ v: 26.4, batt: { cells: [3.3, '3.31 V'], on: true }, 'a/b~c': null, '': 'x' })).toEqual([
      ['/v', '26.4', 26.4, null],
      ['/batt/cells/0', '3.3', 3.3, null],
      ['/batt/cells/1', '3.31 V', 3.31, null],
      ['/batt/on', 'true', null, null],
      ['/a~1b~0c', 'null', null, null],
      ['/', 'x', null, null],
    ]);
  });

  it('are the records of a SenML pack by their resolved names, the newest of each', () => {
    const pack = [
      { bn: 'out/', bt: T0 / 1000, n: 't', u: 'Cel', v: 21 },
      { n: 'h', u: '%RH', v: 40 },
      { n: 't', u: 'Cel', v: 22, t: 5 },
      { n: 'x', u: 'lx', v: 3 },
    ];
    expect(fields(pack)).toEqual([
      ['out/t', '22', 22, 'Cel'],
      ['out/h', '40', 40, '%RH'],
      ['out/x', '3', 3, null],
    ]);
  });

  it.each([
    ['12.8', '12.8', 12.8, null],
    [' 12.8 V\r\n', '12.8 V', 12.8, 'V'],
    ['"451 mA"', '451 mA', 451, 'mA'],
    ['cool', 'cool', null, null],
    ['true', 'true', null, null],
  ])('of a bare value %j are that value', (payload, text, number, unit) => {
    expect(fields(payload)).toEqual([['', text, number, unit]]);
  });

  it.each(['', '{"v":', 'two\nlines', '[]', Buffer.from([0xff, 0xfe])])('of %j there are none', (payload) => {
    expect(fieldsOf(Buffer.from(payload as string), T0)).toEqual([]);
  });

  it("named after an object's inside are names like any other, and touch nothing", () => {
    expect(fields('{"__proto__":{"polluted":1},"constructor":{"prototype":2}}')).toEqual([
      ['/__proto__/polluted', '1', 1, null],
      ['/constructor/prototype', '2', 2, null],
    ]);
    expect(({} as Record<string, unknown>).polluted).toBeUndefined();
  });

  it('are at most 200, printable and cut to 80 characters', () => {
    expect(fields(Array.from({ length: 900 }, (_, i) => i))).toHaveLength(200);
    const [[, text] = []] = fields({ x: `\u202e${'y'.repeat(200)}` });
    expect(text).toMatch(/^\\u\{202e\}y+…$/);
    expect(String(text)).toHaveLength(80);
  });

  it('can be found again by their pointers, whatever the payload, and no payload makes it throw', () => {
    fc.assert(
      fc.property(fc.json(), (text) => {
        const whole: unknown = JSON.parse(text);
        for (const { pointer, number } of fieldsOf(Buffer.from(text), T0)) {
          if (pointer === undefined) continue;
          const found = resolvePointer(whole, parsePointer(pointer) ?? []);
          expect(found).not.toBeUndefined();
          if (typeof found === 'number') expect(Object.is(found, number) || found === number).toBe(true);
        }
      }),
    );
    fc.assert(fc.property(fc.uint8Array({ maxLength: 60 }), (raw) => void fieldsOf(raw, T0)));
  });
});

describe('a payload longer than what is remembered', () => {
  it('still gives the fields that came whole', () => {
    const entry = nothingHeard();
    remember(entry, { tMs: T0, retained: false, payload: bytes({ v: 26.4, log: 'a,{"'.repeat(2000), late: 1 }) });
    expect(entry.isCut).toBe(true);
    expect(entry.head).toHaveLength(REMEMBERED_BYTES);
    expect(fieldsOf(decodable(entry), T0).map(({ pointer, text }) => [pointer, text])).toEqual([['/v', '26.4']]);
  });

  it('is a copy: what the socket does with its buffer afterwards does not change it', () => {
    const chunk = Buffer.from('26.4');
    const entry = nothingHeard();
    remember(entry, { tMs: T0, retained: false, payload: chunk });
    chunk.fill(0);
    expect(Buffer.from(entry.head).toString()).toBe('26.4');
  });

  it('is closed into JSON wherever it is cut behind its first value', () => {
    fc.assert(
      fc.property(fc.array(fc.record({ v: fc.double({ noNaN: true, noDefaultInfinity: true }), s: fc.string() }), { minLength: 2 }), fc.nat(), (value, at) => {
        const text = JSON.stringify(value);
        const from = text.indexOf(',') + 1;
        expect(() => JSON.parse(closeJson(text.slice(0, from + (at % (text.length - from)))))).not.toThrow();
      }),
    );
  });
});
