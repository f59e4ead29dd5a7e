import { describe, expect, it } from 'vitest';
import { type Expected, expectedW, groupTexts, known } from '../../../../dashboard/web/src/format/expected.ts';
import { EVENING_MS, projection } from '../../../helpers/web-scenario-parts.ts';

const full = projection(EVENING_MS, 95.8, 37.6, 'holds');
const [first] = full.curve;
if (!first) throw new Error('no curve');
const bareCurve = full.curve.map((point) => ({ ...point, minisplitW: 0, inverterW: 0, panelsW: 0 }));
const bare = { ...full, curve: bareCurve, energyWh: { minisplit: 0, standing: 1190, inverter: 0, panels: 0 } };
const nothing = { minisplit: false, panels: false };

it('tells what is expected where something is expected at any time', () => {
  expect(known(full, nothing)).toEqual({ minisplit: true, inverter: true, panels: true });
  expect(expectedW(full, first, nothing)).toEqual({ minisplit: 190, standing: 84, inverter: 31, panels: 0 });
});

it('does not call zero what is not known', () => {
  expect(known(bare, nothing)).toEqual({ minisplit: false, inverter: false, panels: false });
  expect(expectedW(bare, bareCurve[0] ?? first, nothing)).toEqual({ minisplit: null, standing: 84, inverter: null, panels: null });
});

it('keeps the zero of what is measured', () => {
  expect(expectedW(bare, bareCurve[0] ?? first, { minisplit: true, panels: true })).toMatchObject({ minisplit: 0, panels: 0 });
});

describe('in words', () => {
  const words = (plannedW: number, part: Partial<Expected> = {}) =>
    groupTexts({ minisplit: 190, standing: 84, inverter: 31, panels: 0, ...part }, plannedW, true).map(({ label, text }) => `${label} ${text}`);

  it('names what draws by group, and the panels and planned loads only when there is something of them', () => {
    expect(words(0)).toEqual(['mini-split 190 W', 'standing loads 84 W', 'inverter 31 W']);
    expect(words(990, { panels: 120 })).toEqual(['mini-split 190 W', 'standing loads 84 W', 'planned loads 990 W', 'inverter 31 W', 'panels 120 W']);
  });

  it('leaves out what is not known, and says that a mini-split stands in the other loads', () => {
    expect(words(0, { minisplit: null, inverter: null, panels: null })).toEqual(['all loads with the mini-split 84 W']);
    expect(groupTexts({ minisplit: null, standing: 84, inverter: null, panels: null }, 0, false)[0]?.label).toBe('standing loads');
  });
});
