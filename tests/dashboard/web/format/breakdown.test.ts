import { expect, it } from 'vitest';
import { doubtText, energyShares } from '../../../../dashboard/web/src/format/breakdown.ts';

const energyWh = { minisplit: 3000, standing: 750, planned: 0.2, inverter: 250, panels: 120 };

it('shares out what is drawn by group, and leaves out what draws nothing and what the panels give', () => {
  const shares = energyShares(energyWh, true);
  expect(shares.map(({ label, share }) => [label, share])).toEqual([
    ['Mini-split', 0.75],
    ['Standing loads', 0.1875],
    ["Inverter's own draw", 0.0625],
  ]);
  expect(energyShares({ minisplit: 0, standing: 0, planned: 0, inverter: 0, panels: 50 }, true)).toEqual([]);
});

it('says that a mini-split of which nothing is known is in the other loads', () => {
  expect(energyShares({ ...energyWh, minisplit: 0 }, false)[0]?.label).toBe('All loads with the mini-split');
});

it('names what the doubt comes from, small parts left out', () => {
  expect(
    doubtText([
      { source: 'sun', share: 0.41 },
      { source: 'soc', share: 0.2 },
      { source: 'outside', share: 0.04 },
    ]),
  ).toBe('sun 41\u00a0%, state of charge now 20\u00a0%');
  expect(doubtText([])).toBe('');
});
