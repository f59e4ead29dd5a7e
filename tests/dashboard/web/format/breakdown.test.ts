import { describe, expect, it } from 'vitest';
import { doubtShares, energyShares } from '../../../../dashboard/web/src/format/breakdown.ts';

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

describe('the doubt', () => {
  const shares = (...doubt: readonly (readonly ['sun' | 'soc' | 'outside', number])[]) =>
    doubtShares(doubt.map(([source, share]) => ({ source, share }))).map(({ source, share }) => [source, Number(share.toFixed(2))]);

  it('names what it comes from, with small parts and what several make together as one, so that the bar is whole', () => {
    expect(shares(['sun', 0.41], ['soc', 0.2], ['outside', 0.04])).toEqual([
      ['sun', 0.41],
      ['soc', 0.2],
      ['together', 0.39],
    ]);
    expect(doubtShares([{ source: 'sun', share: 0.98 }])).toEqual([{ source: 'sun', label: 'sun', share: 0.98 }]);
  });

  it('has no bar where there is none', () => {
    expect(shares()).toEqual([]);
    expect(shares(['sun', 0.03])).toEqual([]);
  });
});
