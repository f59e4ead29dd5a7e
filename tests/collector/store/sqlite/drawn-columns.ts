import fc from 'fast-check';
import { type Columns, columnRoom } from '../../../../collector/store/sqlite/columns.ts';

const MARKS = [
  { suspect: false, reason: null },
  { suspect: true, reason: 'flat' },
  { suspect: true, reason: null },
];

const value = fc.oneof(
  fc.double({ noNaN: true, noDefaultInfinity: true }),
  fc.constantFrom(-0, 0, 5e-324, -2.2e-308, 1e308, -1.7976931348623157e308, 0.1 + 0.2, 2 ** 53, -(2 ** 53)),
  fc.integer({ min: -5000, max: 5000 }).map((whole) => whole / 100),
);
const row = fc.record({
  tMs: fc.oneof(
    fc.integer({ min: -100, max: 100 }).map((second) => 1_780_272_000_000 + second * 1000),
    fc.maxSafeInteger(),
  ),
  value,
  isDevice: fc.boolean(),
  mark: fc.integer({ min: 0, max: MARKS.length - 1 }),
  run: fc.integer({ min: 0, max: 9 }),
  arrivalSeq: fc.oneof(fc.integer({ min: 0, max: 300 }), fc.integer({ min: 0, max: Number.MAX_SAFE_INTEGER - 1 })),
});

/** Columns of whatever readings, in whatever order. */
export const drawnColumns = fc.array(row, { maxLength: 120 }).map((rows): Columns => {
  const columns = { ...columnRoom(rows.length), marks: MARKS };
  rows.forEach((one, at) => {
    columns.tMs[at] = one.tMs;
    columns.value[at] = one.value;
    columns.slot[at] = one.isDevice ? 0 : one.arrivalSeq + 1;
    columns.mark[at] = one.mark;
    columns.run[at] = one.run;
    columns.arrivalSeq[at] = one.arrivalSeq;
  });
  return columns;
});
