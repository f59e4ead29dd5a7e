import { describe, expect, it } from 'vitest';
import { learnPanels } from '../../../engine/panels/learn-panels.ts';
import { clearSkyPanelsW } from '../../../engine/panels/panel-model.ts';
import { BIN_MS } from '../../../engine/types.ts';
import { FIRST_DAY_MS, panelDays, STOP, unsteady } from '../../helpers/panel-days.ts';

/** Broken cloud: most ten minutes lose something, none gains. */
const cloud = (day: number, hour: number): number => 1 - 0.8 * unsteady(37 * day + Math.floor(hour * 6));

describe('what the panels give at this stop against the chain', () => {
  it('is believed to be nine tenths before any clear hour, and said to be unsure', () => {
    for (const bins of [[], panelDays(3, () => 0.25), panelDays(3, ({ day, hour }) => 0.8 * cloud(day, hour))]) {
      const fit = learnPanels(bins, STOP);
      expect(fit).toMatchObject({ gain: 0.9, clearHours: 0, tiltDeg: 0, turbidity: 3 });
      expect(fit.gainSd).toBeCloseTo(0.12, 6);
    }
  });

  it('is learned within 2 % from one clear day', () => {
    const fit = learnPanels(
      panelDays(1, () => 0.8),
      STOP,
    );
    expect(fit.gain).toBeGreaterThan(0.784);
    expect(fit.gain).toBeLessThan(0.816);
    expect(fit.tiltDeg).toBeLessThan(0.5);
    expect(fit.clearHours).toBeGreaterThan(8);
    expect(fit.gainSd).toBeLessThan(0.03);
  });

  it('H08, H10: is not lowered by cloud, by a tree in the afternoon or by a full bank', () => {
    const bins = panelDays(
      8,
      ({ day, hour }) => (day % 2 === 0 ? 0.8 * cloud(day, hour) : hour > 14 && hour < 16 ? 0.25 : hour > 12 && hour < 14 ? 0.1 : 0.8),
      {},
      ({ hour }) => ({ curtailedFrac: hour > 12 && hour < 14 ? 1 : 0 }),
    );
    const fit = learnPanels(bins, STOP);
    expect(fit.gain).toBeGreaterThan(0.78);
    expect(fit.gain).toBeLessThan(0.82);
  });

  it('tells the lean of the parked rig, and reproduces the days it saw within 2 %', () => {
    const lean = [0.035, -0.02] as const;
    const bins = panelDays(10, () => 0.85, { lean });
    const fit = learnPanels(bins, STOP);
    expect(fit.tiltDeg).toBeGreaterThan(1.5);
    expect(fit.tiltDeg).toBeLessThan(3);
    expect(fit.tiltAzimuthDeg).toBeGreaterThan(90);
    expect(fit.tiltAzimuthDeg).toBeLessThan(150);
    let off = 0;
    let gave = 0;
    for (const { tMs, panelsW } of bins) {
      const learnedW = fit.gain * clearSkyPanelsW(STOP, STOP.place, tMs + BIN_MS / 2, 0, { ...fit, airC: 20 });
      off += Math.abs(learnedW - (panelsW ?? 0));
      gave += panelsW ?? 0;
    }
    expect(off / gave).toBeLessThan(0.02);
  });

  it('tells haze, which takes more from a low sun, from a lower gain', () => {
    const hazy = learnPanels(
      panelDays(10, () => 0.85, { turbidity: 5 }),
      STOP,
    );
    expect(hazy.turbidity).toBeGreaterThan(4);
    expect(hazy.tiltDeg).toBeLessThan(1);
  });

  it('after a move drops the lean and keeps the gain as what is believed beforehand', () => {
    const sinceMs = FIRST_DAY_MS + 5 * 86_400_000;
    const fit = learnPanels(
      panelDays(5, () => 0.72, { lean: [0.05, 0] }),
      { ...STOP, sinceMs },
    );
    expect(fit.clearHours).toBe(0);
    expect(fit.gain).toBeGreaterThan(0.68);
    expect(fit.gain).toBeLessThan(0.78);
    expect(fit.tiltDeg).toBe(0);
    expect(fit.gainSd).toBeLessThan(0.1);
  });
});
