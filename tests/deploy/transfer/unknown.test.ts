import fc from 'fast-check';
import { expect, test } from 'vitest';
import { unknownOf } from '../../../deploy/transfer/unknown.ts';

test('of readings, those are unknown that a store which rounds times down never got', () => {
  const one = fc.record({ tMs: fc.integer({ min: 0, max: 3000 }), value: fc.integer({ min: 0, max: 3 }), isKept: fc.boolean() });
  fc.assert(
    fc.property(fc.array(one, { maxLength: 80 }), (all) => {
      const kept = all.filter(({ isKept }) => isKept).map(({ tMs, value }) => ({ tMs: Math.floor(tMs / 100) * 100, value }));
      const rest = unknownOf(all, kept);
      const tenths = (some: readonly { tMs: number; value: number }[]) => some.map(({ tMs, value }) => `${Math.floor(tMs / 100)} ${value}`).sort();
      expect(tenths(rest.readings)).toEqual(tenths(all.filter(({ isKept }) => !isKept)));
      expect(rest.kept).toEqual([]);
    }),
  );
});
