import type { DayRow } from '../../shared/schema/ledger.ts';
import type { Maybe } from '../numeric/series.ts';
import type { Judgement } from '../panels/judgement.ts';
import { BIN_MS, type Bin, type Place } from '../types.ts';
import { panelLossesOf } from './losses.ts';
import { ledgerPlace } from './stay.ts';

const GROUPS = ['panelsW', 'chargersW', 'minisplitW', 'standingW', 'inverterW', 'surplusW'] as const;
type Group = (typeof GROUPS)[number];
const BIN_H = BIN_MS / 3_600_000;

/** Sums of the day under way; null before the first bin. */
export interface DayState {
  readonly dayId: string;
  readonly fromMs: number;
  readonly toMs: number;
  readonly covered: number;
  /** Wh by group; null where no bin had a value. */
  readonly wh: Readonly<Record<Group, Maybe>>;
  readonly bankInWh: number;
  readonly bankOutWh: number;
  readonly unexplainedWh: number;
  readonly soc: { readonly min: Maybe; readonly max: Maybe; readonly end: Maybe };
  readonly outside: { readonly min: Maybe; readonly max: Maybe; readonly sum: number; readonly count: number };
  readonly place: Place | null;
}

/** What a bin's day needs beside the bin. */
export interface DayOf {
  readonly localDate: (tMs: number) => string;
  readonly place: Place | null;
  /** What the last refit found of the panels' losses; left out: nothing. */
  readonly judgement?: Judgement | null;
}

/**
 * Adds a bin to the day it began in, in the rig's zone; gives the day before when the bin begins a new one. Bins oldest first. A day that has been
 * told does not begin again, whether the rig drives into a zone further west or the clock is set back: its row would be lost to an hour's.
 */
export function stepDay(state: DayState | null, bin: Bin, { localDate, place, judgement }: DayOf): { state: DayState; row: DayRow | null } {
  const dayId = localDate(bin.tMs);
  const isNew = state === null || dayId > state.dayId;
  return { state: added(isNew ? emptyDay(dayId, bin.tMs) : state, bin, place), row: isNew && state ? rowOf(state, judgement ?? null) : null };
}

/** Rows of all whole days in the bins, the last, still growing one included. */
export function dayRows(bins: readonly Bin[], of: DayOf): DayRow[] {
  const rows: DayRow[] = [];
  let state: DayState | null = null;
  for (const bin of bins) {
    const stepped: { state: DayState; row: DayRow | null } = stepDay(state, bin, of);
    state = stepped.state;
    if (stepped.row) rows.push(stepped.row);
  }
  if (state) rows.push(rowOf(state, of.judgement ?? null));
  return rows;
}

const emptyDay = (dayId: string, fromMs: number): DayState => ({
  dayId,
  fromMs,
  toMs: fromMs,
  covered: 0,
  wh: { panelsW: null, chargersW: null, minisplitW: null, standingW: null, inverterW: null, surplusW: null },
  bankInWh: 0,
  bankOutWh: 0,
  unexplainedWh: 0,
  soc: { min: null, max: null, end: null },
  outside: { min: null, max: null, sum: 0, count: 0 },
  place: null,
});

const least = (a: Maybe, b: Maybe): Maybe => (a === null || b === null ? (a ?? b) : Math.min(a, b));
const most = (a: Maybe, b: Maybe): Maybe => (a === null || b === null ? (a ?? b) : Math.max(a, b));

function added(day: DayState, bin: Bin, place: Place | null): DayState {
  const wh = (w: Maybe): number => Math.max(0, w ?? 0) * BIN_H;
  const sums = { ...day.wh };
  for (const group of GROUPS) if (bin[group] !== null) sums[group] = (sums[group] ?? 0) + wh(bin[group]);
  const c = bin.outsideC;
  return {
    ...day,
    toMs: bin.tMs + BIN_MS,
    covered: day.covered + bin.coverage,
    wh: sums,
    bankInWh: day.bankInWh + wh(bin.bankW),
    bankOutWh: day.bankOutWh + wh(bin.bankW === null ? null : -bin.bankW),
    unexplainedWh: day.unexplainedWh + wh(bin.unaccountedW === null ? null : -bin.unaccountedW),
    soc: { min: least(day.soc.min, bin.socFrac), max: most(day.soc.max, bin.socFrac), end: bin.socFrac ?? day.soc.end },
    outside: {
      min: least(day.outside.min, c),
      max: most(day.outside.max, c),
      sum: day.outside.sum + (c ?? 0),
      count: day.outside.count + (c === null ? 0 : 1),
    },
    place: place ?? day.place,
  };
}

function rowOf(day: DayState, judgement: Judgement | null): DayRow {
  const round = (value: number, digits = 1): number => Math.round(value * 10 ** digits) / 10 ** digits;
  const maybe = (value: Maybe, factor = 1): Maybe => (value === null ? null : round(value * factor));
  return {
    dayId: day.dayId,
    fromMs: day.fromMs,
    toMs: day.toMs,
    // A day has 24 hours but twice a year; those of the first day may lie before the first reading.
    coverage: round(Math.min(1, day.covered / Math.max(1, (day.toMs - day.fromMs) / BIN_MS)), 3),
    panelsWh: maybe(day.wh.panelsW),
    chargersWh: round(day.wh.chargersW ?? 0),
    minisplitWh: maybe(day.wh.minisplitW),
    standingWh: maybe(day.wh.standingW),
    inverterWh: maybe(day.wh.inverterW),
    bankInWh: round(day.bankInWh),
    bankOutWh: round(day.bankOutWh),
    surplusWh: round(day.wh.surplusW ?? 0),
    unexplainedChargeWh: round(day.unexplainedWh),
    socMinPct: maybe(day.soc.min, 100),
    socMaxPct: maybe(day.soc.max, 100),
    socEndPct: maybe(day.soc.end, 100),
    outsideMinC: maybe(day.outside.min),
    outsideMeanC: day.outside.count > 0 ? round(day.outside.sum / day.outside.count) : null,
    outsideMaxC: maybe(day.outside.max),
    place: ledgerPlace(day.place),
    ...panelLossesOf(judgement, day.fromMs, day.toMs, day.wh.panelsW),
  };
}
