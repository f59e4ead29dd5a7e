import { expect, it } from 'vitest';
import type { FlowItem } from '../../../../dashboard/web/src/charts/balance-items.ts';
import { mergeSmallest } from '../../../../dashboard/web/src/charts/merge-flows.ts';

const flow = (key: string, powerW: number | null): FlowItem => ({ key, label: key, tone: 'standing', powerW, reason: powerW === null ? 'no sensor' : '' });
const right = [flow('minisplit', 3), flow('load.a', 40), flow('load.b', 5), flow('load.c', null), flow('load.d', null), flow('standing', 7), flow('rest', 1)];
const told = (most: number) => mergeSmallest({ left: [], right }, most).right.map(({ key, label, powerW }) => [key, label, powerW]);

it('leaves a side alone that has room', () => {
  expect(mergeSmallest({ left: [], right }, 7).right).toBe(right);
});

it('puts the smallest into one, never the mini-split, the bank, the panels or the rest', () => {
  expect(told(6)).toEqual([
    ['minisplit', 'minisplit', 3],
    ['load.a', 'load.a', 40],
    ['load.c', 'load.c', null],
    ['load.d', 'load.d', null],
    ['others', '2 others', 12],
    ['rest', 'rest', 1],
  ]);
});

it('keeps what is missing apart from what is known, with the reason that they share', () => {
  expect(told(4)).toEqual([
    ['minisplit', 'minisplit', 3],
    ['others', '3 others', 52],
    ['others-missing', '2 others', null],
    ['rest', 'rest', 1],
  ]);
  expect(mergeSmallest({ left: [], right }, 4).right[2]?.reason).toBe('no sensor');
});
