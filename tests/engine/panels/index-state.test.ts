import { describe, expect, it } from 'vitest';
import { initialPanels, type PanelState, stepPanels } from '../../../engine/panels/index-state.ts';

const CHARGER = { limitV: 3.43, floatV: 3.33 };

const run = (from: PanelState, steps: number, panelsW: number | null, cellV: number | null, clearW: number | null): PanelState => {
  let state = from;
  for (let i = 0; i < steps; i++) state = stepPanels(state, { tMs: i * 10_000, dtH: 10 / 3600, panelsW, bankW: 200, cellV, charger: CHARGER, clearW });
  return state;
};

describe('the share of clear-sky power that the panels give', () => {
  it('is learned while the bank takes all of it', () => {
    const sunny = run(initialPanels, 1, 720, 3.35, 900);
    expect(sunny.recentIndex).toBeCloseTo(0.8, 9);
    expect(run(sunny, 720, 180, 3.35, 900).recentIndex).toBeCloseTo(0.2, 1);
  });

  it('H08: is not learned from a full bank that takes less; what goes to waste is estimated instead', () => {
    const sunny = run(initialPanels, 60, 720, 3.35, 900);
    const full = run(sunny, 360, 40, 3.5, 900);
    expect(full).toMatchObject({ curtailed: true, recentIndex: sunny.recentIndex });
    expect(full.expectedW).toBeCloseTo(0.8 * 900, 0);
  });

  it('never expects less than what comes', () => {
    expect(run(run(initialPanels, 60, 180, 3.35, 900), 1, 700, 3.5, 900).expectedW).toBe(700);
  });

  it('H08: is not learned either while a full bank floats and rests', () => {
    const full = run(run(initialPanels, 60, 720, 3.35, 900), 60, 300, 3.5, 900);
    let floating = full;
    for (let i = 0; i < 360; i++) {
      floating = stepPanels(floating, { tMs: i * 10_000, dtH: 10 / 3600, panelsW: 120, bankW: 5, cellV: 3.37, charger: CHARGER, clearW: 900 });
    }
    expect(floating).toMatchObject({ curtailed: true, recentIndex: full.recentIndex });
  });

  it('is not learned at night, at an unknown place or without a reading', () => {
    for (const [panelsW, clearW] of [
      [0, 0],
      [5, 10],
      [300, null],
      [null, 900],
    ] as const) {
      expect(run(initialPanels, 10, panelsW, 3.35, clearW)).toMatchObject({ recentIndex: null, curtailed: false });
    }
  });
});
