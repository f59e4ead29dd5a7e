import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { type DayState, dayRows, stepDay } from '../../../engine/ledger/day.ts';
import { initialState } from '../../../engine/state.ts';
import { BIN_MS, type Bin } from '../../../engine/types.ts';
import { DayRow } from '../../../shared/schema/ledger.ts';
import { HOUR_MS, NOON_MS, rigOf } from '../../helpers/engine-rig.ts';
import { worldOf } from '../../helpers/engine-world.ts';

const START_MS = Date.UTC(2025, 6, 10, 7);
const binAt = (tMs: number, over: Partial<Bin> = {}): Bin => ({
  tMs,
  coverage: 1,
  socFrac: 0.6,
  voltageV: 26,
  bankW: -120,
  panelsW: 300,
  chargersW: 0,
  loadsW: 420,
  minisplitW: 240,
  standingW: 150,
  inverterW: 30,
  unaccountedW: 0,
  surplusW: 0,
  outsideC: 24,
  cabinC: 24,
  waterGm3: 11,
  setpointC: 24,
  modeIndex: 1,
  panelIndex: 0.8,
  curtailedFrac: 0,
  ...over,
});
const of = {
  localDate: (tMs: number) => new Intl.DateTimeFormat('en-CA', { timeZone: 'America/Phoenix', dateStyle: 'short' }).format(tMs),
  place: { latitudeDeg: 33.44839, longitudeDeg: -112.07404 },
};
const bins = (count: number, over: (i: number) => Partial<Bin> = () => ({})): Bin[] =>
  Array.from({ length: count }, (_, i) => binAt(START_MS + i * BIN_MS, over(i)));

describe('the ledger of days', () => {
  it("cuts at the rig's midnight and gives every group's energy", () => {
    const rows = dayRows(
      bins(3 * 144, (i) => ({ surplusW: i < 144 ? 60 : 0, outsideC: i === 10 ? 41 : 24, socFrac: 0.9 - i / 1000 })),
      of,
    );
    expect(rows.map((row) => row.dayId)).toEqual(['2025-07-10', '2025-07-11', '2025-07-12']);
    const first = DayRow.parse(rows[0]);
    expect(first.fromMs).toBe(START_MS);
    expect(first.toMs).toBe(START_MS + 24 * 3_600_000);
    expect(first).toMatchObject({ panelsWh: 7200, minisplitWh: 5760, standingWh: 3600, inverterWh: 720, bankInWh: 0, bankOutWh: 2880, surplusWh: 1440 });
    expect(first).toMatchObject({ outsideMaxC: 41, outsideMinC: 24, socMaxPct: 90, socEndPct: 75.7, coverage: 1 });
    // Kept to about a kilometre.
    expect(first.place).toEqual({ latitudeDeg: 33.45, longitudeDeg: -112.07 });
  });

  it('a zone further west, or a clock set back, takes the rig into no day that has been told already', () => {
    const zoned = (timeZone: string) => ({
      ...of,
      localDate: (tMs: number) => new Intl.DateTimeFormat('en-CA', { timeZone, dateStyle: 'short' }).format(tMs),
    });
    let state: DayState | null = null;
    const rows: DayRow[] = [];
    bins(3 * 144).forEach((bin, i) => {
      const stepped: ReturnType<typeof stepDay> = stepDay(state, bin, zoned(i <= 144 ? 'America/Phoenix' : 'America/Anchorage'));
      state = stepped.state;
      if (stepped.row) rows.push(stepped.row);
    });
    expect(rows.map((row) => row.dayId)).toEqual(['2025-07-10', '2025-07-11']);
    expect(rows.map((row) => (row.toMs - row.fromMs) / HOUR_MS)).toEqual([24, 25]);
  });

  it('what was not measured is missing, never nothing', () => {
    const [row] = dayRows(
      bins(144, () => ({ minisplitW: null, panelsW: null, outsideC: null, socFrac: null, bankW: null, coverage: 0 })),
      of,
    );
    expect(row).toMatchObject({ minisplitWh: null, panelsWh: null, outsideMeanC: null, socMinPct: null, coverage: 0, bankOutWh: 0 });
  });

  it('a charge without a source is told apart', () => {
    const [row] = dayRows(
      bins(144, (i) => (i >= 120 ? { bankW: 500, unaccountedW: -500 } : {})),
      of,
    );
    expect(row?.unexplainedChargeWh).toBe(2000);
    expect(row?.bankInWh).toBe(2000);
  });

  it('no energy is lost or counted twice, wherever the gaps lie', () => {
    fc.assert(
      fc.property(
        fc.array(fc.record({ gap: fc.integer({ min: 1, max: 40 }), w: fc.integer({ min: 0, max: 900 }) }), { minLength: 1, maxLength: 120 }),
        (list) => {
          let tMs = START_MS;
          const some = list.map(({ gap, w }) => {
            tMs += gap * BIN_MS;
            return binAt(tMs, { panelsW: w });
          });
          const total = dayRows(some, of).reduce((sum, row) => sum + (row.panelsWh ?? 0), 0);
          expect(Math.abs(total - list.reduce((sum, { w }) => sum + w / 6, 0))).toBeLessThan(0.06 * list.length);
        },
      ),
    );
  });

  it("comes from the engine once, when the rig's midnight has passed", () => {
    const rig = rigOf();
    const world = worldOf(rig, initialState(rig, NOON_MS), NOON_MS, 0.9);
    const rows: DayRow[] = [];
    world.live(NOON_MS + 11.9 * HOUR_MS, (seen) => rows.push(...seen.days));
    expect(rows).toEqual([]);
    const { panelsWh, minisplitWh } = world.flown();
    world.live(NOON_MS + 12.5 * HOUR_MS, (seen) => rows.push(...seen.days));
    expect(rows).toHaveLength(1);
    const row = DayRow.parse(rows[0]);
    expect(row).toMatchObject({ dayId: '2025-07-10', fromMs: NOON_MS, toMs: NOON_MS + 12 * HOUR_MS, place: { latitudeDeg: 38, longitudeDeg: 0 } });
    expect(Math.abs((row.panelsWh ?? 0) - panelsWh)).toBeLessThan(0.01 * panelsWh);
    expect(Math.abs((row.minisplitWh ?? 0) - minisplitWh)).toBeLessThan(0.03 * minisplitWh);
  });
});
