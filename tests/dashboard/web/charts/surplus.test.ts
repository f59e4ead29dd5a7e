import { expect, it } from 'vitest';
import { surplusRuns } from '../../../../dashboard/web/src/charts/surplus.ts';

const STEP = 600_000;
const point = (i: number, surplusW: number | null) => ({ tMs: i * STEP, socPct: 100, panelsW: 0, minisplitW: 0, standingW: 0, inverterW: 0, surplusW });

it('joins stretches of sun thrown away, over one quiet step, and adds their energy up', () => {
  const runs = surplusRuns([point(0, 0), point(1, 600), point(2, 300), point(3, null), point(4, 300), point(7, 60), point(8, 5)], STEP);
  expect(runs).toEqual([
    { fromMs: STEP, toMs: 5 * STEP, energyWh: 200 },
    { fromMs: 7 * STEP, toMs: 8 * STEP, energyWh: 10 },
  ]);
});
