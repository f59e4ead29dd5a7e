import { describe, expect, it } from 'vitest';
import { staysOf } from '../../../engine/ledger/stay.ts';
import { trackRecord } from '../../../engine/ledger/track.ts';
import { Stay, TrackRecord } from '../../../shared/schema/ledger.ts';
import { NightRow, type SocQuantiles } from '../../../shared/schema/projection.ts';

const DAY_MS = 86_400_000;
const said = (p50Pct: number, half = 5): SocQuantiles => ({
  tMs: 0,
  p5Pct: p50Pct - half - 2,
  p10Pct: p50Pct - half,
  p25Pct: p50Pct - 2,
  p50Pct,
  p75Pct: p50Pct + 2,
  p90Pct: p50Pct + half,
  p95Pct: p50Pct + half + 2,
});

/** A row as older versions wrote it, and what is laid over. */
function nightOf(day: number, over: Partial<NightRow> = {}): NightRow {
  return NightRow.parse({
    nightId: new Date(day * DAY_MS).toISOString().slice(0, 10),
    startMs: day * DAY_MS,
    sunsetMs: day * DAY_MS,
    sunriseMs: day * DAY_MS + 1,
    endMs: day * DAY_MS + 2,
    startSocPct: 90,
    sunriseSocPct: 50,
    lowPointPct: 44,
    lowPointMs: day * DAY_MS + 1,
    takeoverMs: null,
    minisplitWh: 1800,
    standingWh: 600,
    inverterWh: 200,
    panelsWh: 100,
    bankOutWh: 2500,
    unexplainedChargeWh: 0,
    outsideMinC: 20,
    outsideMeanC: 23,
    cabinMeanC: 24,
    setpointC: 24,
    projectedAtSunset: null,
    learnedFrom: true,
    coverage: 1,
    ...over,
  });
}

describe("the engine's own track record", () => {
  it('tells bias, error and share inside from what was said and what came', () => {
    const rows = [
      nightOf(1, { projectedAtSunset: { sunrise: said(46), lowPoint: said(40) } }),
      nightOf(2, { projectedAtSunset: { sunrise: said(50), lowPoint: said(46) } }),
      nightOf(3, { projectedAtSunset: { sunrise: said(56), lowPoint: said(50) } }),
    ];
    const track = TrackRecord.parse(trackRecord(rows));
    expect(track.atSunset.sunrise).toEqual({ nights: 3, biasPct: -0.67, meanErrorPct: 3.33, insideShare: 0.667 });
    expect(track.atSunset.lowPoint).toEqual({ nights: 3, biasPct: -1.33, meanErrorPct: 4, insideShare: 0.667 });
    expect(track.atBedtime.lowPoint).toEqual({ nights: 0, biasPct: null, meanErrorPct: null, insideShare: null });
  });

  it('looks at the newest nights of which something was said, in whatever order they come', () => {
    const old = Array.from({ length: 20 }, (_, i) => nightOf(i, { projectedAtSunset: { sunrise: said(80), lowPoint: said(80) } }));
    const unsaid = Array.from({ length: 10 }, (_, i) => nightOf(20 + i));
    const newest = Array.from({ length: 30 }, (_, i) => nightOf(30 + i, { projectedAtSunset: { sunrise: said(50), lowPoint: said(44) } }));
    const track = trackRecord([...newest.reverse(), ...unsaid, ...old]);
    expect(track.atSunset.lowPoint).toEqual({ nights: 30, biasPct: 0, meanErrorPct: 0, insideShare: 1 });
    expect(trackRecord([...old, ...newest, ...unsaid], 40).atSunset.lowPoint.nights).toBe(40);
  });

  it('a night that ended before sunrise, or had none said, does not count for the sunrise', () => {
    const rows = [
      nightOf(1, { sunriseSocPct: null, projectedAtBedtime: { sunrise: said(50), lowPoint: said(44) } }),
      nightOf(2, { projectedAtBedtime: { sunrise: null, lowPoint: said(44) } }),
    ];
    expect(trackRecord(rows).atBedtime.sunrise.nights).toBe(0);
    expect(trackRecord(rows).atBedtime.lowPoint.nights).toBe(2);
  });
});

describe('stays', () => {
  const mesa = { latitudeDeg: 33.45, longitudeDeg: -112.07 };
  it('are nights in a row at one place; one whose place was not known stays with the one before', () => {
    const near = { latitudeDeg: 33.46, longitudeDeg: -112.08 };
    const far = { latitudeDeg: 35.2, longitudeDeg: -111.65 };
    const rows = [
      nightOf(1, { place: mesa, minisplitWh: 2000, dewPointC: 12 }),
      nightOf(2, { place: near, minisplitWh: 1000 }),
      nightOf(3, { minisplitWh: null }),
      nightOf(4, { place: far, lowPointPct: 60 }),
      nightOf(5, { place: mesa }),
    ];
    const stays = staysOf(rows).map((stay) => Stay.parse(stay));
    expect(stays.map((stay) => stay.nights)).toEqual([3, 1, 1]);
    expect(stays[0]).toMatchObject({ fromNightId: '1970-01-02', toNightId: '1970-01-04', minisplitWh: 1500, dewPointC: 12, place: mesa });
    expect(stays[1]?.lowPointPct).toBe(60);
  });

  it('either side of the date line is one place', () => {
    const rows = [nightOf(1, { place: { latitudeDeg: -16.8, longitudeDeg: 180 } }), nightOf(2, { place: { latitudeDeg: -16.8, longitudeDeg: -179.99 } })];
    expect(staysOf(rows)).toHaveLength(1);
  });

  it('none for no nights', () => {
    expect(staysOf([])).toEqual([]);
  });
});
