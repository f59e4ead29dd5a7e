import { describe, expect, it } from 'vitest';
import { alignedColumns, chargeColumns, powerColumns, roundSpan, roundStep, temperatureColumns } from '../../../../dashboard/web/src/charts/night-columns.ts';
import { lowestAt, nightPath, pathScale, pathY } from '../../../../dashboard/web/src/charts/night-path.ts';
import type { NightDetail, NightPoint } from '../../../../shared/schema/night-book.ts';
import { nightRow } from '../../../helpers/night-rows.ts';

const STEP_MS = 600_000;
const curve = { nightId: '2026-11-23', fromMs: 0, stepMs: STEP_MS, socPct: [90, 80, null, 60, 70] };
const point = (tMs: number, socPct: number | null): NightPoint => ({
  tMs,
  socPct,
  panelsW: 10,
  chargersW: 0,
  minisplitW: 200,
  standingW: 60,
  inverterW: 30,
  surplusW: 0,
  outsideC: 10,
  cabinC: 20,
  setpointC: null,
});
const detail = (nightId: string, points: NightPoint[], over: Partial<NightDetail['row']> = {}): NightDetail => {
  const row = nightRow(nightId, over);
  const fromMs = row.startMs - 4.5 * 3_600_000;
  return { row, fromMs, toMs: fromMs + 86_400_000, points, floorPct: 35, said: [], loads: [], events: [], note: '', placeName: '' };
};

describe('the small curve of a night', () => {
  const scale = pathScale([curve], 50, 100, 54);

  it('is drawn on the scale of all: as many hours wide, from a little under the lowest or the floor up to full', () => {
    expect(scale).toEqual({ width: 100, height: 54, spanMs: 5 * STEP_MS, lowPct: 47, highPct: 100 });
    expect([pathY(scale, 100), pathY(scale, 47)]).toEqual([2, 52]);
    expect(pathScale([curve], 70, 100, 54).lowPct).toBe(57);
    expect(pathScale([], null, 100, 54)).toMatchObject({ spanMs: 1, lowPct: 97 });
  });

  it('begins anew behind what was not measured, and marks its lowest', () => {
    expect(nightPath(curve, scale)).toBe('M10 11.4L30 20.9M70 39.7L90 30.3');
    expect(lowestAt(curve, scale)).toEqual({ x: 70, y: 39.7 });
    expect(lowestAt({ ...curve, socPct: [null, null] }, scale)).toBeNull();
    expect(nightPath({ ...curve, socPct: [] }, scale)).toBe('');
  });
});

describe('the columns of one night', () => {
  const from = nightRow('2026-11-23').startMs - 4.5 * 3_600_000;
  const night = detail('2026-11-23', [point(from, 90), point(from + 2 * STEP_MS, 88)]);

  it('lie on a grid from noon to noon, with null where nothing was measured, each in the middle of its ten minutes', () => {
    const [times, soc] = chargeColumns(night);
    expect([times.length, times[0]]).toEqual([144, (from + STEP_MS / 2) / 1000]);
    expect(soc?.slice(0, 4)).toEqual([90, null, 88, null]);
  });

  it('put powers one on the other, and know no sum of nothing', () => {
    const columns = powerColumns(night)
      .slice(1)
      .map((cells) => cells[0]);
    expect(columns).toEqual([290, 260, 60, 10, 0]);
    expect(
      powerColumns(night)
        .slice(1)
        .map((cells) => cells[1]),
    ).toEqual(Array(5).fill(null));
    const unmeasured = detail('2026-11-23', [{ ...point(from, 90), minisplitW: null, inverterW: null }]);
    expect(
      powerColumns(unmeasured)
        .slice(1, 4)
        .map((cells) => cells[0]),
    ).toEqual([60, 60, 60]);
  });

  it('turn temperatures into the units asked for', () => {
    expect(
      temperatureColumns(night, (c) => c * 1.8 + 32)
        .slice(1)
        .map((cells) => cells[0]),
    ).toEqual([68, 50, null]);
  });

  it('are spanned by round numbers', () => {
    expect(roundSpan([[0], [12, null], [31]], 10, [20, 24])).toEqual([10, 40]);
    expect(roundSpan([[0], [null]], 10, [20, 24])).toEqual([20, 30]);
    expect([roundStep(1480, 3), roundStep(300, 3), roundStep(90, 3)]).toEqual([500, 100, 50]);
  });
});

describe('two nights in one chart', () => {
  it('are aligned on their sunsets, over all hours of either', () => {
    const [a, b] = [nightRow('2026-11-22'), nightRow('2026-11-23')];
    const later = { sunsetMs: (b.sunsetMs ?? 0) + 2 * STEP_MS };
    const one = detail('2026-11-22', [point(a.sunsetMs ?? 0, 80), point((a.sunsetMs ?? 0) + STEP_MS, 79), point(a.startMs - 3_600_000, 99)]);
    const other = detail('2026-11-23', [point((b.sunsetMs ?? 0) + STEP_MS, 70), point((b.sunsetMs ?? 0) + 2 * STEP_MS, 69)], later);
    const [hours, first, second] = alignedColumns(one, other);
    expect(hours.map((hour) => Math.round(60 * hour))).toEqual([0, 10, 20]);
    expect(first).toEqual([null, 80, 79]);
    expect(second).toEqual([70, 69, null]);
  });

  it('are aligned on their beginnings where the sun was not known', () => {
    const row = nightRow('2026-11-22');
    const one = detail('2026-11-22', [point(row.startMs, 80)], { sunsetMs: null });
    expect(alignedColumns(one, one)).toEqual([[expect.closeTo(1 / 6, 9)], [80], [80]]);
  });
});
