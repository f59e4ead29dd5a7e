import { describe, expect, it } from 'vitest';
import { addStep, BIN_FIELDS, type BinField, closeBin, emptySums, type StepValues } from '../../engine/bins.ts';
import { NOON_MS } from '../helpers/engine-rig.ts';

const nothing = Object.fromEntries(BIN_FIELDS.map((field) => [field, null])) as Record<BinField, null>;
const step = (over: Partial<StepValues>): StepValues => ({ ...nothing, modeIndex: null, curtailed: false, socFrac: null, ...over });
const binOf = (steps: readonly Partial<StepValues>[]) => closeBin(steps.reduce((sums, over) => addStep(sums, step(over)), emptySums(NOON_MS)));
const sixty = (over: (i: number) => Partial<StepValues>) => binOf(Array.from({ length: 60 }, (_, i) => over(i)));

describe('ten minutes as one bin', () => {
  it('has means of what was measured, and the last state of charge and mode', () => {
    const bin = sixty((i) => ({ bankW: i < 30 ? -100 : -300, minisplitW: i < 20 ? 90 : null, socFrac: 0.8 - i / 1000, modeIndex: i < 10 ? 1 : null }));
    expect(bin).toMatchObject({ tMs: NOON_MS, bankW: -200, minisplitW: 90, socFrac: 0.741, modeIndex: 1, coverage: 1 });
  });

  it('is null where nothing was measured, and covered by what was', () => {
    expect(sixty((i) => (i < 15 ? { bankW: -100 } : {}))).toMatchObject({
      bankW: -100,
      panelsW: null,
      outsideC: null,
      waterGm3: null,
      coverage: 0.25,
      chargersW: 0,
    });
    expect(binOf([])).toMatchObject({ coverage: 0, bankW: null, socFrac: null, curtailedFrac: 0 });
  });

  it('H08: has no panel index from a full bank, at night or at an unknown place', () => {
    const light = { panelsW: 480, clearW: 600 };
    expect(sixty(() => light).panelIndex).toBe(0.8);
    expect(sixty((i) => ({ ...light, curtailed: i < 20 }))).toMatchObject({ panelIndex: null, curtailedFrac: 0.33 });
    expect(sixty(() => ({ panelsW: 0, clearW: 0 })).panelIndex).toBeNull();
    expect(sixty(() => ({ panelsW: 480 })).panelIndex).toBeNull();
  });

  it('has the water in the air from temperature and humidity', () => {
    expect(sixty(() => ({ cabinC: 20, rhPct: 50 })).waterGm3).toBeCloseTo(8.6, 1);
  });
});
