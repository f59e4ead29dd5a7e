import { describe, expect, it } from 'vitest';
import type { SignalSource } from '../../../shared/schema/rig-file.ts';
import { decode, NOW, value } from './decoding.ts';

describe('a SenML pack (RFC 8428)', () => {
  const senml = (pack: unknown, more: Partial<SignalSource> = {}) =>
    decode(JSON.stringify(pack), { format: 'senml', name: 'van/outside', ...more }, 'temperature');

  it('joins the base name, base unit, base value and base time', () => {
    const pack = [
      { bn: 'van/', bt: NOW / 1000 - 100, bu: 'K', bv: 273.15 },
      { n: 'cabin', v: 1 },
      { n: 'outside', t: 40, v: 20 },
    ];
    const decoded = senml(pack);
    expect(decoded).toMatchObject({ ok: true, timeMs: NOW - 60_000 });
    expect(value(decoded)).toBeCloseTo(20, 9);
  });

  it('a base field holds from its record on', () => {
    expect(
      value(
        senml([
          { bn: 'x/', n: 'outside', v: 1 },
          { bn: 'van/', n: 'outside', v: 2 },
        ]),
      ),
    ).toBe(2);
    expect(value(senml([{ n: 'van/outside', u: 'Cel', v: 7 }]))).toBe(7);
  });

  it('small times are relative to now, none is now', () => {
    // So long ago by the board's own reckoning: nothing is said of its clock.
    expect(senml([{ n: 'van/outside', v: 7, t: -30 }])).toMatchObject({ timeMs: NOW - 30_000, clockMs: null });
    expect(senml([{ n: 'van/outside', v: 7 }])).toMatchObject({ timeMs: null });
    expect(senml([{ n: 'van/outside', v: 7, t: 2 ** 28 + 5 }])).toMatchObject({ timeMs: null, remarks: ['time-implausible'] });
  });

  it('a unit of another quantity, or other than the one configured, is refused', () => {
    expect(value(senml([{ n: 'van/outside', u: 'V', v: 7 }]))).toBe('unit-mismatch');
    expect(value(senml([{ n: 'van/outside', u: 'K', v: 280 }], { unit: 'Cel' }))).toBe('unit-mismatch');
  });

  it('takes words and booleans where they mean something', () => {
    const pack = JSON.stringify([
      { n: 'm', vs: 'heat' },
      { n: 'f', vb: false },
    ]);
    expect(value(decode(pack, { format: 'senml', name: 'm' }, 'mode'))).toBe(2);
    expect(value(decode(pack, { format: 'senml', name: 'f' }, 'flag'))).toBe(0);
  });

  it.each([
    ['an object', {}],
    ['no list', 5],
    ['empty', []],
    ['a wrong value', [{ n: 'van/outside', v: '7' }]],
    ['a wrong base', [{ bn: 5, n: 'x', v: 1 }]],
    ['a label that must be understood', [{ n: 'van/outside', v: 7, need_: 1 }]],
    ['a later version', [{ bver: 11, n: 'van/outside', v: 7 }]],
    ['a list in it', [[1]]],
  ])('%s is no pack', (_, pack) => {
    expect(value(senml(pack))).toBe('bad-senml');
  });

  it('a pack without the record has no such field, a record without value is empty', () => {
    expect(value(senml([{ n: 'other', v: 1 }]))).toBe('no-such-field');
    expect(value(senml([{ n: 'van/outside' }]))).toBe('empty');
  });
});
