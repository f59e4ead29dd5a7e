import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { coarsen, decodeBlock, encodeBlock } from '../../../../collector/store/sqlite/block.ts';
import { type Columns, columnRoom } from '../../../../collector/store/sqlite/columns.ts';
import { drawnColumns } from './drawn-columns.ts';

/** A column as text, so that nought and the nought below it differ. */
const bits = (column: Float64Array): string => Array.from(new BigUint64Array(column.slice().buffer)).join(' ');
const valuesOnly = (values: readonly number[]): Columns => {
  const columns = { ...columnRoom(values.length), marks: [{ suspect: false, reason: null }] };
  values.forEach((value, at) => {
    columns.value[at] = value;
    columns.tMs[at] = at * 1000;
  });
  return columns;
};

describe('a block of readings', () => {
  test('comes back to the bit, whatever the readings and their order', () => {
    fc.assert(
      fc.property(drawnColumns, (columns) => {
        const back = decodeBlock(encodeBlock(columns, 0), 0);
        for (const name of ['tMs', 'value', 'slot', 'run', 'arrivalSeq'] as const) expect(bits(back[name])).toBe(bits(columns[name]));
        expect(Array.from(back.mark, (mark) => back.marks[mark])).toEqual(Array.from(columns.mark, (mark) => columns.marks[mark]));
      }),
      { numRuns: 500 },
    );
  });

  test('of coarse readings comes back as they were made coarse', () => {
    fc.assert(
      fc.property(drawnColumns, (columns) => {
        const coarse = coarsen(columns);
        const back = decodeBlock(encodeBlock(coarse, 0), 0);
        for (const name of ['tMs', 'value', 'slot'] as const) expect(bits(back[name])).toBe(bits(coarse[name]));
        coarse.tMs.forEach((tMs, at) => {
          const earlierMs = (columns.tMs[at] as number) - tMs;
          expect(earlierMs).toBeGreaterThanOrEqual(0);
          expect(earlierMs).toBeLessThan(columns.slot[at] === 0 ? 1 : 100);
        });
      }),
    );
  });

  test('takes about a byte a value in few decimal places, also where they were converted or a few are not like the others', () => {
    const walk = Array.from({ length: 3600 }, (_, at) => Math.round(2640 + 40 * Math.sin(at / 300) + ((at * 7919) % 11)) / 100);
    const size = (values: readonly number[]): number => encodeBlock(coarsen(valuesOnly(values)), 0).length / values.length;
    expect(size(walk)).toBeLessThan(0.8);
    expect(size(walk.map((value) => (value - 32) / 1.8))).toBeLessThan(1.2);
    expect(size(walk.map((value, at) => (at % 400 === 0 ? Math.PI * at : value)))).toBeLessThan(1);
  });

  test('that was cut off or changed on the disk is damage, never other readings', () => {
    const columns = valuesOnly(Array.from({ length: 900 }, (_, at) => at % 77));
    const block = encodeBlock(columns, 0);
    fc.assert(
      fc.property(fc.nat({ max: block.length - 1 }), fc.integer({ min: 1, max: 255 }), fc.boolean(), (at, flip, isCut) => {
        const broken = isCut ? block.slice(0, at) : block.map((byte, place) => (place === at ? byte ^ flip : byte));
        try {
          expect(bits(decodeBlock(broken, 0).value)).toBe(bits(columns.value));
        } catch (error) {
          expect(error).toMatchObject({ code: 'SQLITE_CORRUPT' });
        }
      }),
    );
  });
});
