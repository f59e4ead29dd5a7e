import { describe, expect, it } from 'vitest';
import { compareHeadline, differences } from '../../../../dashboard/web/src/format/compare-nights.ts';
import { filteredRows, LEDGER_COLUMNS, NEWEST_FIRST, sortedRows, sortingAfter } from '../../../../dashboard/web/src/format/ledger-columns.ts';
import { monthAfter, monthSpan, monthSums, monthsOf, monthText } from '../../../../dashboard/web/src/format/month.ts';
import { againstText, drawnWh, isInside, minisplitText, outsideText, restWh } from '../../../../dashboard/web/src/format/night-words.ts';
import { energyLines, momentText, nightHeadline, saidLines } from '../../../../dashboard/web/src/format/one-night.ts';
import { placeGroups, placeLabels } from '../../../../dashboard/web/src/format/place-groups.ts';
import type { NightDetail } from '../../../../shared/schema/night-book.ts';
import { nightRow, saidOf } from '../../../helpers/night-rows.ts';

const LAKE = { latitudeDeg: 41.2, longitudeDeg: -8.6 };
const HILL = { latitudeDeg: 42.9, longitudeDeg: -7.1 };
const nights = [
  nightRow('2026-10-31', { lowPointPct: 70, minisplitWh: null, place: HILL }),
  nightRow('2026-11-01', { lowPointPct: 41, minisplitWh: 2600, place: { ...LAKE, latitudeDeg: 41.21 } }),
  nightRow('2026-11-02', { lowPointPct: 55, minisplitWh: 600, projectedAtSunset: null }),
  nightRow('2026-11-03', { lowPointPct: 55, minisplitWh: 600, place: null }),
];
const places = placeLabels(nights, [{ place: LAKE, name: 'by the lake' }]);
const ids = (rows: readonly { nightId: string }[]) => rows.map(({ nightId }) => nightId.slice(5));

describe('places', () => {
  it('are called by their names, else by where they lie, together within two kilometres', () => {
    expect([...places.values()]).toEqual(['near 42.90° N, 7.10° W', 'by the lake', 'by the lake', 'place not known']);
    const drifting = [nightRow('2026-11-02', { place: HILL }), nightRow('2026-11-01', { place: { ...HILL, latitudeDeg: 42.91 } })];
    expect([...placeLabels(drifting, []).values()]).toEqual(Array(2).fill('near 42.90° N, 7.10° W'));
  });

  it('are listed by their nights', () => {
    expect(placeGroups(nights, places).map(({ label, nights: count }) => [label, count])).toEqual([
      ['by the lake', 2],
      ['near 42.90° N, 7.10° W', 1],
      ['place not known', 1],
    ]);
  });
});

describe('the ledger', () => {
  it('is sorted by every column, what is missing last either way, equal ones the newest first', () => {
    const sorted = (by: (typeof LEDGER_COLUMNS)[number]['id'], down: boolean) => ids(sortedRows(nights, { by, down }, places));
    expect(sorted('night', true)).toEqual(['11-03', '11-02', '11-01', '10-31']);
    expect(sorted('lowest', false)).toEqual(['11-01', '11-03', '11-02', '10-31']);
    expect(sorted('minisplit', true)).toEqual(['11-01', '11-03', '11-02', '10-31']);
    expect(sorted('minisplit', false)).toEqual(['11-03', '11-02', '11-01', '10-31']);
    expect(sorted('against', true)).toEqual(['10-31', '11-03', '11-01', '11-02']);
    expect(sorted('place', false)).toEqual(['11-02', '11-01', '10-31', '11-03']);
    for (const { id } of LEDGER_COLUMNS) expect(sorted(id, true)).toHaveLength(4);
  });

  it('turns round at a second press, and begins each column with what is asked for first', () => {
    expect(sortingAfter(NEWEST_FIRST, 'night')).toEqual({ by: 'night', down: false });
    expect(sortingAfter(NEWEST_FIRST, 'lowest')).toEqual({ by: 'lowest', down: false });
    expect(sortingAfter(NEWEST_FIRST, 'minisplit')).toEqual({ by: 'minisplit', down: true });
  });

  it('is filtered by place and month', () => {
    expect(ids(filteredRows(nights, '', '', places))).toHaveLength(4);
    expect(ids(filteredRows(nights, 'by the lake', '', places))).toEqual(['11-01', '11-02']);
    expect(ids(filteredRows(nights, '', '2026-10', places))).toEqual(['10-31']);
    expect(ids(filteredRows(nights, 'by the lake', '2026-10', places))).toEqual([]);
  });
});

describe('a night in words', () => {
  const row = nightRow('2026-11-23');

  it('tells what came against what was said', () => {
    expect(againstText(row, 'sunset')).toBe('2 higher');
    expect(againstText({ ...row, lowPointPct: 52.6 }, 'sunset')).toBe('4 lower');
    expect(againstText({ ...row, lowPointPct: 57.4 }, 'sunset')).toBe('as said');
    expect([againstText(row, 'bedtime'), isInside(row, 'bedtime')]).toEqual(['–', null]);
    expect([61, 61.1, 53, 52.9].map((lowPointPct) => isInside({ ...row, lowPointPct }, 'sunset'))).toEqual([true, false, true, false]);
  });

  it('tells energies and temperatures, and what is not known by a dash', () => {
    expect([restWh(row), drawnWh(row)]).toEqual([1100, 2800]);
    expect([restWh({ ...row, standingWh: null }), drawnWh({ ...row, standingWh: null })]).toEqual([null, null]);
    expect(minisplitText({ ...row, minisplitEstimated: true })).toBe('about 1.7 kWh');
    expect(minisplitText({ ...row, minisplitWh: null, minisplitEstimated: true })).toBe('–');
    expect(outsideText(row, 'metric')).toBe('16 to 31°');
    expect(outsideText(row, 'us')).toBe('61 to 88°');
    expect(outsideText({ ...row, outsideMaxC: undefined }, 'metric')).toBe('from 16°');
    expect(outsideText({ ...row, outsideMaxC: 16.2 }, 'metric')).toBe('16°');
    expect(outsideText({ ...row, outsideMinC: null, outsideMaxC: null }, 'metric')).toBe('–');
    expect(energyLines({ ...row, chargersWh: 800 }).map(([what]) => what)).toEqual([
      ...['mini-split', 'standing loads', 'inverter', 'all that was drawn', 'from the bank', 'from the panels', 'from other chargers'],
    ]);
  });

  it('has a headline', () => {
    expect(nightHeadline(row, 'UTC')).toBe('Mon 23 Nov: lowest 59\u00a0% at 08:30, 2 higher than said at sunset.');
    expect(nightHeadline({ ...row, lowPointPct: 57 }, 'UTC')).toBe('Mon 23 Nov: lowest 57\u00a0% at 08:30, as said at sunset.');
    expect(nightHeadline({ ...row, projectedAtSunset: null }, 'UTC')).toBe('Mon 23 Nov: lowest 59\u00a0% at 08:30.');
  });

  it('tells a moment with all that was measured then', () => {
    const known = { panelsW: 0, chargersW: 0, minisplitW: 190, standingW: 70, inverterW: 38, surplusW: 0 };
    const point = { tMs: row.startMs, socPct: 71.2, ...known, outsideC: 18.2, cabinC: 24.1, setpointC: 24 };
    expect(momentText([point], row.startMs + 300_000, 'metric', 'UTC')).toBe(
      '16:35: 71 %. Mini-split 190 W, standing loads 70 W, inverter 38 W. Cabin 24.1°, outside 18.2°, set to 24.0°.',
    );
    expect(momentText([point], row.startMs + 600_000, 'metric', 'UTC')).toBe('16:40: nothing was measured.');
    const dark = { ...point, socPct: null, minisplitW: null, standingW: null, inverterW: null, cabinC: null, setpointC: null };
    expect(momentText([dark], row.startMs, 'us', 'UTC')).toBe('16:30: state of charge not known. Outside 64.8°.');
  });

  it('lists what was said at sunset and bedtime, and every two hours until the low point', () => {
    const at = (hours: number) => ({ tMs: row.startMs + hours * 3_600_000, p10Pct: 54, p50Pct: 58, p90Pct: 60, lowPointMs: row.endMs });
    const said = Array.from({ length: 17 }, (_, i) => at(i));
    const detail = { row: { ...row, projectedAtBedtime: { sunrise: null, lowPoint: saidOf(row.endMs, 64) } }, said } as unknown as NightDetail;
    expect(saidLines(detail, 'UTC').map(({ when }) => when)).toEqual(['at sunset', 'at bedtime', '20:30', '22:30', '00:30', '02:30', '04:30', '06:30']);
    expect(saidLines(detail, 'UTC')[1]).toEqual({ when: 'at bedtime', said: '64 %', range: '60 to 68 %', outcome: 'came 5 lower, outside' });
  });
});

describe('two nights', () => {
  it('are told apart figure by figure; what neither knows is left out', () => {
    const [one, other] = [
      nightRow('2026-11-22', { lowPointPct: 48, dewPointC: null }),
      nightRow('2026-11-23', { minisplitWh: 1300, outsideMinC: 18, dewPointC: null }),
    ];
    const told = new Map(differences(one, other, 'metric', 'UTC').map(({ what, ...rest }) => [what, rest]));
    expect(told.get('lowest')).toEqual({ one: '48 %', other: '59 %', difference: '11 points higher' });
    expect(told.get('mini-split')).toEqual({ one: '1.7 kWh', other: '1.3 kWh', difference: '0.4 kWh less' });
    expect(told.get('outside, lowest')).toEqual({ one: '16°', other: '18°', difference: '2 K warmer' });
    expect(told.get('lowest at')).toEqual({ one: '08:30', other: '08:30', difference: '' });
    expect(told.get('sunset to sunrise')).toEqual({ one: '14 h 30 min', other: '14 h 30 min', difference: 'the same' });
    expect(told.has('dew point outside')).toBe(false);
    expect(compareHeadline(one, other)).toBe('Sun 22 Nov fell to 48\u00a0%, Mon 23 Nov to 59\u00a0%: 11 points higher.');
    expect(differences(one, { ...other, outsideMinC: null }, 'us', 'UTC').find(({ what }) => what === 'outside, lowest')).toMatchObject({
      other: '–',
      difference: '',
    });
  });
});

describe('the difference of two nights', () => {
  const told = (what: string, one: Parameters<typeof nightRow>[1], other: typeof one, units: 'metric' | 'us' = 'metric') =>
    differences(nightRow('2026-11-22', one), nightRow('2026-11-23', other), units, 'UTC').find((row) => row.what === what);

  it('is that of the figures as they are written', () => {
    expect(told('mini-split', { minisplitWh: 2349 }, { minisplitWh: 2451 })).toMatchObject({ one: '2.3 kWh', other: '2.5 kWh', difference: '0.2 kWh more' });
    expect(told('mini-split', { minisplitWh: 85.4 }, { minisplitWh: 60.6 })).toMatchObject({ one: '85 Wh', other: '61 Wh', difference: '24 Wh less' });
    const sunriseMs = 1_000_000_000_000;
    const carriedAfter = (seconds: number) => ({ sunriseMs, takeoverMs: sunriseMs + 1000 * seconds });
    expect(told('sunrise to takeover', carriedAfter(46.6 * 60), carriedAfter(45.4 * 60))).toMatchObject({
      one: '47 min',
      other: '45 min',
      difference: '2 min shorter',
    });
    expect(told('outside, lowest', { outsideMinC: 16.6 }, { outsideMinC: 17.4 })).toMatchObject({ one: '17°', other: '17°', difference: 'the same' });
    expect(told('outside, lowest', { outsideMinC: 10 }, { outsideMinC: 9.2 }, 'us')).toMatchObject({ one: '50°', other: '49°', difference: '1°F colder' });
    expect(told('lowest', { lowPointPct: 48.4 }, { lowPointPct: 49.6 })).toMatchObject({ one: '48 %', other: '50 %', difference: '2 points higher' });
    expect(compareHeadline(nightRow('2026-11-22', { lowPointPct: 48.4 }), nightRow('2026-11-23', { lowPointPct: 49.6 }))).toContain(': 2 points higher.');
  });
});

describe('a month', () => {
  it('has a name, neighbours and a span that holds its nights alone, also where clocks change', () => {
    expect(monthsOf(nights)).toEqual(['2026-11', '2026-10']);
    expect([monthText('2026-11'), monthAfter('2026-12', 1), monthAfter('2026-01', -1)]).toEqual(['November 2026', '2027-01', '2025-12']);
    const { fromMs, toMs } = monthSpan('2026-10', 'Europe/Lisbon');
    expect([new Date(fromMs).toISOString(), new Date(toMs).toISOString()]).toEqual(['2026-10-01T16:00:00.000Z', '2026-11-01T17:00:00.000Z']);
    const [last, next] = [nightRow('2026-10-31'), nightRow('2026-09-30')];
    expect([last.endMs < toMs, next.endMs < fromMs]).toEqual([true, true]);
  });

  it('has totals of energies, means and extremes of what is known', () => {
    const sums = monthSums(nights);
    expect(sums).toMatchObject({
      nights: 4,
      lowestPct: 41,
      meanLowPct: 55.25,
      minisplitWh: 3800,
      restWh: 4400,
      bankOutWh: 10_800,
      outsideMinC: 16,
      outsideMaxC: 31,
    });
    expect(sums.nightsWith).toEqual({ minisplit: 3, rest: 4 });
    expect(monthSums([])).toMatchObject({ nights: 0, lowestPct: null, minisplitWh: null, dewPointC: null });
  });
});
