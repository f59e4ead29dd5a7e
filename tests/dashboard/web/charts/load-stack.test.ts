import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { drawnW, joined, powerScale, type StackPoint, stackColumns, withPlanned } from '../../../../dashboard/web/src/charts/load-stack.ts';

const STEP = 600_000;
const at = (i: number, part: Partial<StackPoint> = {}): StackPoint => ({
  tMs: i * STEP,
  inverterW: 30,
  standingW: 80,
  plannedW: 0,
  minisplitW: 200,
  panelsW: 0,
  ...part,
});
const curve = [0, 1, 2].map((i) => ({ tMs: i * STEP, standingW: 80 + (i === 1 ? 990 : 0), minisplitW: 200, inverterW: 30, panelsW: 0 }));
const oven = { startMs: STEP, endMs: 2 * STEP, powerW: 900 };

describe('what is planned', () => {
  it('is taken out of the standing loads, in which the engine counts it', () => {
    const points = withPlanned(curve, [oven], 1.1);
    expect(points.map(({ standingW, plannedW }) => [standingW, plannedW].map((w) => Math.round(w ?? -1)))).toEqual([
      [80, 0],
      [80, 990],
      [80, 0],
    ]);
  });

  it('never leaves less than nothing to the standing loads, and the sum stays', () => {
    fc.assert(
      fc.property(fc.double({ min: 1, max: 3000, noNaN: true }), fc.double({ min: 1, max: 1.5, noNaN: true }), (powerW, share) =>
        withPlanned(curve, [{ ...oven, powerW }], share).every((point, i) => {
          const sum = (point.standingW ?? 0) + point.plannedW;
          return (point.standingW ?? -1) >= 0 && Math.abs(sum - (curve[i]?.standingW ?? 0)) < 1e-6;
        }),
      ),
    );
  });
});

describe('the stack', () => {
  it('sums what draws from the inverter up, each layer with all under it', () => {
    const columns = stackColumns([at(0, { plannedW: 990 })], { fromMs: 0, toMs: STEP });
    expect(columns.map(([first]) => first)).toEqual([0, 1300, 1100, 110, 30, 0]);
  });

  it('breaks where the standing loads are not known, and counts what is not modelled as nothing', () => {
    const columns = stackColumns([at(0, { standingW: null }), at(1, { minisplitW: null, inverterW: null, panelsW: null })], { fromMs: 0, toMs: STEP });
    expect(columns.slice(1).map(([first]) => first)).toEqual([null, null, null, null, 0]);
    expect(columns.slice(1).map(([, second]) => second)).toEqual([80, 80, 80, 0, null]);
    expect(drawnW(at(0, { standingW: null }))).toBeNull();
  });

  it('shows only its window', () => {
    expect(
      stackColumns(
        [0, 1, 2, 3].map((i) => at(i)),
        { fromMs: STEP, toMs: 2 * STEP },
      )[0],
    ).toEqual([600, 1200]);
  });
});

it('joins the past to what is expected, and breaks the line over a hole', () => {
  const past = [at(0), at(1), at(6), at(7)];
  const all = joined(past, [at(7, { standingW: 5 }), at(8)]);
  expect(all.map(({ tMs, standingW }) => [tMs / STEP, standingW])).toEqual([
    [0, 80],
    [1, 80],
    [1 + 1 / STEP, null],
    [6, 80],
    [7, 5],
    [8, 80],
  ]);
});

it('marks the axis at round figures, at most three over zero, with all below its top', () => {
  expect(powerScale(300).marksW).toEqual([0, 200]);
  expect(powerScale(1300).marksW).toEqual([0, 500, 1000]);
  expect(powerScale(0)).toEqual({ topW: 100, marksW: [0, 50, 100] });
  fc.assert(
    fc.property(fc.double({ min: 0, max: 20_000, noNaN: true }), (mostW) => {
      const { topW, marksW } = powerScale(mostW);
      return topW >= mostW && marksW.length >= 2 && marksW.length <= 4 && marksW.every((w) => w <= topW);
    }),
  );
});
