import { expect, it } from 'vitest';
import { ghostCurve } from '../../../../dashboard/web/src/charts/ghost.ts';
import { runAdvice } from '../../../helpers/web-advice.ts';
import { EVENING_MS, H, projection } from '../../../helpers/web-scenario-parts.ts';

const p = projection(EVENING_MS, 95.8, 37.6, 'holds');
const under = (load: { startMs: number; endMs: number }) =>
  ghostCurve(p, load, runAdvice()).map(({ tMs, socPct }) => ({ tMs, offPct: (p.curve.find((point) => point.tMs === tMs)?.p50Pct ?? Number.NaN) - socPct }));

it('falls evenly while the load runs, and lies as much lower after it as the engine says of the low point', () => {
  const off = under({ startMs: EVENING_MS + H, endMs: EVENING_MS + 2 * H });
  expect(off[0]).toEqual({ tMs: EVENING_MS + H, offPct: 0 });
  expect(off.find(({ tMs }) => tMs === EVENING_MS + 1.5 * H)?.offPct).toBeCloseTo(5.5, 9);
  for (const { tMs, offPct } of off) if (tMs >= EVENING_MS + 2 * H) expect(offPct).toBeCloseTo(11, 9);
});

it('ends at the takeover: from there on the sun decides', () => {
  expect(under({ startMs: EVENING_MS, endMs: EVENING_MS + H }).at(-1)?.tMs).toBeLessThanOrEqual(p.nightEndMs);
});

it('takes the points of the load itself where it runs past the low point', () => {
  const off = under({ startMs: p.nightEndMs - H, endMs: p.nightEndMs + H });
  expect(off.at(-1)?.offPct).toBeGreaterThan(10);
  expect(off.at(-1)?.offPct).toBeLessThanOrEqual(10.9);
});

it('draws nothing beyond what is projected, and never less than an empty bank', () => {
  expect(under({ startMs: EVENING_MS + 40 * H, endMs: EVENING_MS + 41 * H })).toEqual([]);
  const deep = ghostCurve(p, { startMs: EVENING_MS, endMs: EVENING_MS + H }, { costPct: 120, effect: { ...runAdvice().effect, gainPct: -120 } });
  expect(Math.min(...deep.map(({ socPct }) => socPct))).toBe(0);
});
