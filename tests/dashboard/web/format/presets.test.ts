import { expect, it } from 'vitest';
import { type Preset, presets, remembered } from '../../../../dashboard/web/src/format/presets.ts';
import { EVENING_MS } from '../../../helpers/web-scenario-parts.ts';

const load = (name: string, powerW: number): Preset => ({ name, powerW, minutes: 30, peakW: null });
const planned = { id: '3f0c1f5e-5a5a-4d0e-9b4e-0a8f3b1c2d10', name: 'Oven', powerW: 900, startMs: EVENING_MS, endMs: EVENING_MS + 3_000_000 };

it('offers what the person planned here, what is planned now and what is measured, each name once', () => {
  expect(
    presets(
      [load('oven', 1000)],
      [planned, { ...planned, name: 'kettle', powerW: 1500 }],
      [
        { name: 'fridge', powerW: 46.4 },
        { name: 'pump', powerW: 3 },
        { name: 'fan', powerW: null },
      ],
    ),
  ).toEqual([load('oven', 1000), { name: 'kettle', powerW: 1500, minutes: 50, peakW: null }, { name: 'fridge', powerW: 46, minutes: null, peakW: null }]);
});

it('invents none', () => {
  expect(presets([], [], [])).toEqual([]);
});

it('remembers the newest first, each name once, and not without end', () => {
  const past = ['a', 'b', 'c', 'd', 'e', 'f'].map((name) => load(name, 100));
  expect(remembered(past, load('C', 300)).map(({ name, powerW }) => [name, powerW])).toEqual([
    ['C', 300],
    ...['a', 'b', 'd', 'e', 'f'].map((name) => [name, 100]),
  ]);
  expect(remembered(past, load('g', 100)).map(({ name }) => name)).toEqual(['g', 'a', 'b', 'c', 'd', 'e']);
});
