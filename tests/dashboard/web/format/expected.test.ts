import { expect, it } from 'vitest';
import { expectedW, known } from '../../../../dashboard/web/src/format/expected.ts';
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
