import { describe, expect, it } from 'vitest';
import { afterMove, indexTrace, learnStop } from '../../../engine/panels/learn-stop.ts';
import { panelDays, STOP } from '../../helpers/panel-days.ts';

const hazy = panelDays(6, ({ azimuthDeg, elevationDeg }) => (azimuthDeg < 110 && elevationDeg < 15 ? 0.1 : 0.8), { turbidity: 5, lean: [0.03, 0] });

describe('what is learned of a stop', () => {
  it('leaves an index that is the same from morning to evening on clear days', () => {
    const learned = learnStop(hazy, STOP);
    const index = indexTrace(hazy, STOP, learned);
    const day = index.slice(5 * 144 + 42, 5 * 144 + 102).filter((v) => v !== null);
    expect(day.length).toBeGreaterThan(50);
    for (const value of day) expect(Math.abs(value / learned.fit.gain - 1)).toBeLessThan(0.05);
    expect(index[5 * 144]).toBeNull();
  });

  it('has no index for what was held back, missing, or at another stop', () => {
    const noon = 5 * 144 + 72;
    const bins = hazy.map((bin, i) => (i === noon ? { ...bin, curtailedFrac: 1 } : i === noon + 1 ? null : bin));
    const index = indexTrace(bins, { ...STOP, sinceMs: hazy[5 * 144]?.tMs ?? 0 }, null);
    expect([index[noon - 1], index[noon], index[noon + 1], index[noon - 144]].map((v) => v !== null)).toEqual([true, false, false, false]);
  });

  it('H08: counts what a full bank threw away as if it had come', () => {
    const held = hazy.map((bin) => (bin.panelsW === null ? bin : { ...bin, panelsW: 0.25 * bin.panelsW, surplusW: 0.75 * bin.panelsW, curtailedFrac: 1 }));
    const [whole, filled] = [hazy, held].map((bins) => indexTrace(bins, STOP, null)) as [(number | null)[], (number | null)[]];
    expect(whole.some((v) => v !== null)).toBe(true);
    for (const [i, value] of whole.entries()) expect(filled[i] ?? -1).toBeCloseTo(value ?? -1, 9);
  });

  it('H11: goes along on a move but for haze, lean and horizon', () => {
    const learned = learnStop(hazy, STOP);
    expect(learned.horizon.some((height) => height !== null)).toBe(true);
    const { fit, horizon } = afterMove(learned);
    expect(fit).toMatchObject({ gain: learned.fit.gain, turbidity: 3, lean: [0, 0], tiltDeg: 0, clearHours: 0 });
    expect(horizon.some((height) => height !== null)).toBe(false);
    expect(afterMove(learned, true).fit).toMatchObject({ turbidity: learned.fit.turbidity, lean: [0, 0] });
  });
});
