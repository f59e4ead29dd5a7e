import { describe, expect, it } from 'vitest';
import { initialNight, type NightState, type NightStep, noteProjection, stepNight } from '../../../engine/ledger/night.ts';
import type { SunEvents } from '../../../engine/sun/sun.ts';
import { NightRow, type Projection } from '../../../shared/schema/projection.ts';
import { HOUR_MS } from '../../helpers/engine-rig.ts';

const SUNSET_MS = Date.UTC(2025, 6, 10, 19);
const SUNRISE_MS = Date.UTC(2025, 6, 11, 5);
const MINUTE_MS = 60_000;

const sunAt = (tMs: number): SunEvents => {
  const isUp = tMs < SUNSET_MS || tMs >= SUNRISE_MS;
  const dayMs = 24 * HOUR_MS;
  return {
    kind: 'events',
    isUp,
    nextSunsetMs: tMs < SUNSET_MS ? SUNSET_MS : SUNSET_MS + dayMs,
    nextSunriseMs: tMs < SUNRISE_MS ? SUNRISE_MS : SUNRISE_MS + dayMs,
  };
};

const stepAt = (tMs: number, over: Partial<NightStep> = {}): NightStep => ({
  tMs,
  dtH: 1 / 60,
  sun: sunAt(tMs),
  lastSunset: () => (tMs >= SUNSET_MS ? SUNSET_MS : SUNSET_MS - 24 * HOUR_MS),
  socPct: 80,
  bankW: -300,
  panelsW: 0,
  chargersW: 0,
  loadsW: 300,
  minisplitW: 200,
  standingW: 80,
  inverterW: 20,
  unaccountedW: 0,
  surplusW: 0,
  outsideC: 20,
  outsideRhPct: null,
  cabinC: 24,
  rhPct: null,
  setpointC: 24,
  minisplitEstimated: false,
  place: null,
  localDate: (ms) => new Date(ms).toISOString().slice(0, 10),
  capacityWh: 5000,
  ...over,
});

/** Minute by minute over [fromMs, toMs); gives the rows that came and the state at the end. */
function run(fromMs: number, toMs: number, over: (tMs: number) => Partial<NightStep> = () => ({}), from: NightState = initialNight) {
  let state = from;
  const rows: NightRow[] = [];
  for (let tMs = fromMs; tMs < toMs; tMs += MINUTE_MS) {
    const stepped = stepNight(state, stepAt(tMs, over(tMs)));
    state = stepped.state;
    if (stepped.row) rows.push(stepped.row);
  }
  return { state, rows };
}
const bright = { bankW: 500, panelsW: 800, loadsW: 300 };

it('a night says when its mini-split is not measured but estimated, and else keeps quiet about it', () => {
  const rowWith = (minisplitEstimated: boolean) => run(SUNSET_MS - HOUR_MS, SUNRISE_MS + 6 * HOUR_MS, () => ({ minisplitEstimated })).rows[0];
  expect(rowWith(true)).toMatchObject({ minisplitEstimated: true, minisplitWh: expect.any(Number) });
  expect(rowWith(false)).not.toHaveProperty('minisplitEstimated');
});

describe('the temperatures outside', () => {
  const warmThenCold = (tMs: number) => ({ outsideC: tMs < SUNSET_MS ? 27.5 : tMs < SUNRISE_MS ? 16 : 21 });
  it('are told by their lowest and highest; not measured, they are not known', () => {
    expect(run(SUNSET_MS - HOUR_MS, SUNRISE_MS + 6 * HOUR_MS, warmThenCold).rows[0]).toMatchObject({ outsideMinC: 16, outsideMaxC: 27.5 });
    expect(run(SUNSET_MS - HOUR_MS, SUNRISE_MS + 6 * HOUR_MS, () => ({ outsideC: null })).rows[0]).toMatchObject({ outsideMinC: null, outsideMaxC: null });
  });

  it('have no highest in a night that began before it was kept', () => {
    const { state } = run(SUNSET_MS - HOUR_MS, SUNSET_MS + HOUR_MS, warmThenCold);
    const { max: _, ...outside } = state.tonight?.outside ?? { sum: 0, count: 0, min: null };
    const earlier = { ...state, tonight: state.tonight && { ...state.tonight, outside } };
    expect(run(SUNSET_MS + HOUR_MS, SUNRISE_MS + 6 * HOUR_MS, warmThenCold, earlier).rows[0]).toMatchObject({ outsideMinC: 16, outsideMaxC: null });
  });
});

describe('the beginning of a night', () => {
  it('is when the loads outran the panels for a quarter of an hour, with all sums from then', () => {
    const turnMs = SUNSET_MS - 2 * HOUR_MS;
    const { state } = run(SUNSET_MS - 4 * HOUR_MS, SUNSET_MS - HOUR_MS, (tMs) => (tMs < turnMs ? bright : {}));
    expect(state.tonight).toMatchObject({ startMs: turnMs, sunsetMs: SUNSET_MS, sunriseMs: SUNRISE_MS, startSocPct: 80, steps: 60 });
    expect(state.tonight?.wh.minisplit).toBeCloseTo(200, 6);
  });

  it('is not a cloud of ten minutes, nor cooking at noon', () => {
    expect(run(SUNSET_MS - 3 * HOUR_MS, SUNSET_MS - HOUR_MS, (tMs) => ((tMs / MINUTE_MS) % 20 < 10 ? {} : bright)).state).toMatchObject({ tonight: null });
    expect(run(SUNSET_MS - 7 * HOUR_MS, SUNSET_MS - 4 * HOUR_MS).state).toEqual(initialNight);
  });

  it('is sunset where the loads have not outrun the panels before', () => {
    const { state } = run(SUNSET_MS - HOUR_MS, SUNSET_MS + HOUR_MS, (tMs) => (tMs < SUNSET_MS ? bright : {}));
    expect(state.tonight).toMatchObject({ startMs: SUNSET_MS, sunsetMs: SUNSET_MS });
  });

  it('may be seen late: the night then belongs to the evening before, not to the morning it was seen', () => {
    const seenMs = Date.UTC(2025, 6, 11, 1);
    const { state, rows } = run(seenMs, SUNRISE_MS + 6 * HOUR_MS);
    expect(state.tonight).toBeNull();
    expect(rows).toHaveLength(1);
    expect(rows[0]).toMatchObject({ nightId: '2025-07-10', startMs: seenMs, sunsetMs: SUNSET_MS });
  });

  it('waits for a state of charge, and for a sun', () => {
    expect(run(SUNSET_MS, SUNSET_MS + HOUR_MS, () => ({ socPct: null })).state.tonight).toBeNull();
    expect(run(SUNSET_MS, SUNSET_MS + HOUR_MS, () => ({ sun: { kind: 'unknown-place' } })).state.tonight).toBeNull();
  });
});

describe('the end of a night', () => {
  const takeoverMs = SUNRISE_MS + 90 * MINUTE_MS;

  it('is the takeover, once the panels have stayed ahead for a quarter of an hour', () => {
    const flicker = (tMs: number) => tMs > SUNRISE_MS + 30 * MINUTE_MS && tMs < SUNRISE_MS + 40 * MINUTE_MS;
    const { rows, state } = run(SUNSET_MS, SUNRISE_MS + 4 * HOUR_MS, (tMs) => (flicker(tMs) || tMs >= takeoverMs ? bright : {}));
    expect(rows).toHaveLength(1);
    expect(rows[0]).toMatchObject({ takeoverMs, endMs: takeoverMs + 15 * MINUTE_MS, sunriseMs: SUNRISE_MS });
    expect(state).toMatchObject({ tonight: null, endedMs: rows[0]?.endMs });
  });

  it('is five hours after sunrise on a dark day, without a takeover', () => {
    const { rows } = run(SUNSET_MS, SUNRISE_MS + 8 * HOUR_MS);
    expect(rows).toHaveLength(1);
    expect(rows[0]).toMatchObject({ takeoverMs: null, endMs: SUNRISE_MS + 5 * HOUR_MS });
  });

  it('is not moonlight: panels ahead of the loads before sunrise take nothing over', () => {
    const { state } = run(SUNSET_MS, SUNRISE_MS - HOUR_MS, (tMs) => (tMs > SUNSET_MS + HOUR_MS ? { panelsW: 400, loadsW: 300 } : {}));
    expect(state.tonight).not.toBeNull();
  });
});

describe('the row of a night', () => {
  const rowOf = (over: (tMs: number) => Partial<NightStep>): NightRow => {
    const row = run(SUNSET_MS, SUNRISE_MS + 6 * HOUR_MS, over).rows[0];
    if (!row) throw new Error('no row');
    return row;
  };

  it('keeps the lowest state of charge and when, and that at sunrise', () => {
    const row = rowOf((tMs) => ({ socPct: tMs < SUNRISE_MS + HOUR_MS ? 80 - (30 * (tMs - SUNSET_MS)) / (SUNRISE_MS + HOUR_MS - SUNSET_MS) : 60 }));
    expect(row.lowPointMs).toBe(SUNRISE_MS + HOUR_MS - MINUTE_MS);
    expect(row.lowPointPct).toBeCloseTo(50, 0);
    expect(row.sunriseSocPct).toBeCloseTo(80 - (30 * 10) / 11, 1);
  });

  it('says how much of it was seen, and nothing is learned from one with long gaps', () => {
    const gap = (tMs: number): Partial<NightStep> =>
      tMs > SUNSET_MS + 2 * HOUR_MS && tMs < SUNSET_MS + 7 * HOUR_MS ? { bankW: null, standingW: null, loadsW: null } : {};
    expect(rowOf(gap)).toMatchObject({ learnedFrom: false, coverage: expect.closeTo(10 / 15, 1) });
    expect(rowOf(() => ({}))).toMatchObject({ learnedFrom: true, coverage: 1 });
  });

  it('leaves out what was not measured, and does not call it zero', () => {
    expect(rowOf(() => ({ minisplitW: null, outsideC: null, cabinC: null, setpointC: null }))).toMatchObject({
      minisplitWh: null,
      outsideMinC: null,
      outsideMeanC: null,
      cabinMeanC: null,
      setpointC: null,
    });
    expect(rowOf(() => ({ minisplitW: 0 })).minisplitWh).toBe(0);
  });

  it('tells the setpoint that was held longest in the dark, not that of the afternoon or of the morning', () => {
    const setpointC = (tMs: number): number | null => {
      if (tMs < SUNSET_MS) return 17;
      if (tMs < SUNSET_MS + 3 * HOUR_MS) return 20;
      if (tMs < SUNSET_MS + 8 * HOUR_MS) return 22.22;
      return tMs < SUNRISE_MS ? null : 17;
    };
    const held = (of: (tMs: number) => number | null) =>
      run(SUNSET_MS - 2 * HOUR_MS, SUNRISE_MS + 6 * HOUR_MS, (tMs) => ({ setpointC: of(tMs) })).rows[0]?.setpointC;
    expect(held(setpointC)).toBe(22.2);
    expect(held((tMs) => (tMs < SUNSET_MS || tMs >= SUNRISE_MS ? 17 : null))).toBeNull();
  });

  it('tells the share of the mini-split, what was thrown away, how moist it was and where', () => {
    const row = NightRow.parse(
      rowOf((tMs) => ({ surplusW: tMs >= SUNRISE_MS ? 90 : 0, outsideRhPct: 60, rhPct: 50, place: { latitudeDeg: 29.76049, longitudeDeg: -95.3698 } })),
    );
    expect(row.minisplitShare).toBeCloseTo(200 / 300, 3);
    expect(row.surplusWh).toBeGreaterThan(400);
    // 20 deg C at 60 % and 24 deg C at 50 %.
    expect(Math.abs((row.dewPointC ?? 0) - 12)).toBeLessThan(0.2);
    expect(Math.abs((row.cabinDewPointC ?? 0) - 12.9)).toBeLessThan(0.2);
    expect(row.place).toEqual({ latitudeDeg: 29.76, longitudeDeg: -95.37 });
    expect(rowOf(() => ({ minisplitW: null }))).toMatchObject({ minisplitShare: null, dewPointC: null, cabinDewPointC: null, place: null, surplusWh: 0 });
  });
});

describe('the projection that a night is judged by', () => {
  const projection = (tMs: number): Projection => ({ tMs, sunrise: null, lowPoint: { tMs } }) as unknown as Projection;
  const { state } = run(SUNSET_MS - HOUR_MS, SUNSET_MS + HOUR_MS);

  it('is the first one made after sunset', () => {
    expect(noteProjection(state, projection(SUNSET_MS - 10 * MINUTE_MS)).tonight?.projected).toBeNull();
    const noted = noteProjection(state, projection(SUNSET_MS + 5 * MINUTE_MS));
    expect(noted.tonight?.projected?.lowPoint.tMs).toBe(SUNSET_MS + 5 * MINUTE_MS);
    expect(noteProjection(noted, projection(SUNSET_MS + 15 * MINUTE_MS))).toBe(noted);
  });

  it('is none where the first one came long after sunset', () => {
    expect(noteProjection(state, projection(SUNSET_MS + 3 * HOUR_MS)).tonight?.projected).toBeNull();
  });

  it('beside it stands the first one made at bedtime', () => {
    const bedtime = SUNSET_MS + 3.5 * HOUR_MS;
    expect(noteProjection(state, projection(bedtime - 5 * MINUTE_MS)).tonight?.projectedAtBedtime).toBeNull();
    const noted = noteProjection(noteProjection(state, projection(SUNSET_MS)), projection(bedtime));
    expect(noted.tonight?.projectedAtBedtime?.lowPoint.tMs).toBe(bedtime);
    expect(noted.tonight?.projected?.lowPoint.tMs).toBe(SUNSET_MS);
    expect(noteProjection(noted, projection(bedtime + 10 * MINUTE_MS))).toBe(noted);
    const { rows } = run(SUNSET_MS + HOUR_MS, SUNRISE_MS + 6 * HOUR_MS, () => ({}), noted);
    expect(rows[0]?.projectedAtBedtime?.lowPoint.tMs).toBe(bedtime);
  });
});
