import type { NightRow, Projection } from '../../shared/schema/projection.ts';
import type { EpochMs } from '../../shared/units.ts';
import { dewPointC } from '../cabin/humid-air.ts';
import type { SunEvents } from '../sun/sun.ts';
import type { Place } from '../types.ts';
import { bedtimeMs } from './bedtime.ts';
import { type HeldSettings, longestHeldC, withSetting } from './held-setting.ts';
import { ledgerPlace } from './stay.ts';

/** Sums over the night under way; null: it is day. */
export interface NightState {
  readonly tonight: Tonight | null;
  /** The sums since the loads outran the panels, while that may still be a passing thing; null: they do not now. */
  readonly evening: Tonight | null;
  /** Since when the panels have been ahead of the loads after sunrise; null: they are not now. */
  readonly turnMs: EpochMs | null;
  readonly endedMs: EpochMs;
}

/** A mean under way. */
interface Mean {
  readonly sum: number;
  readonly count: number;
}

export interface Tonight {
  readonly startMs: EpochMs;
  readonly sunsetMs: EpochMs | null;
  readonly sunriseMs: EpochMs | null;
  readonly startSocPct: number;
  readonly sunriseSocPct: number | null;
  readonly lowPct: number;
  readonly lowMs: EpochMs;
  readonly steps: number;
  readonly seen: number;
  readonly wh: {
    readonly minisplit: number;
    readonly standing: number;
    readonly inverter: number;
    readonly panels: number;
    readonly chargers: number;
    readonly bankOut: number;
    readonly unexplained: number;
    readonly surplus: number;
  };
  readonly minisplitSeen: boolean;
  readonly minisplitEstimated: boolean;
  /** `max` is left out of, and unknown for, a night that began before it was kept. */
  readonly outside: { readonly sum: number; readonly count: number; readonly min: number | null; readonly max?: number | null };
  readonly cabin: Mean;
  readonly cabinRh: Mean;
  readonly outsideRh: Mean;
  /** Setpoints between sunset and sunrise: what is set by day or in the morning does not speak of the night. */
  readonly setpoints: HeldSettings;
  readonly projected: NightRow['projectedAtSunset'];
  readonly bedtimeMs: EpochMs | null;
  readonly projectedAtBedtime: NightRow['projectedAtSunset'];
}

export const initialNight: NightState = { tonight: null, evening: null, turnMs: null, endedMs: 0 };

/** The night after the clock was set back: what began by then goes on, and one that has ended does not begin again within the day. */
export function nightSetBack(state: NightState, wallMs: EpochMs): NightState {
  const begun = (n: Tonight | null): Tonight | null => (n === null || n.startMs > wallMs ? null : { ...n, lowMs: Math.min(n.lowMs, wallMs) });
  return { tonight: begun(state.tonight), evening: begun(state.evening), turnMs: null, endedMs: state.endedMs - wallMs < DAY_MS ? state.endedMs : 0 };
}

const DAY_MS = 86_400_000;
const TURN_MS = 15 * 60_000;
/** The loads can outrun the panels at noon too, while cooking; a night begins at most this long before sunset. */
const EVENING_MS = 4 * 3_600_000;
export const AFTER_SUNRISE_MS = 5 * 3_600_000;
/** A projection made later than this after sunset or bedtime no longer counts as made then. */
const AT_MOMENT_MS = 3_600_000;

/** From this share of the bank on, energy that came from elsewhere makes a night another one. */
const FOREIGN_SHARE = 0.05;

/** Whether so much came in this night, from a charger or without a known source, that no projection could have foreseen where it led. */
export const isForeign = (n: Tonight, capacityWh: number): boolean => n.wh.unexplained + n.wh.chargers >= FOREIGN_SHARE * capacityWh;

/** What one step of the engine knows. */
export interface NightStep {
  readonly tMs: EpochMs;
  readonly dtH: number;
  readonly sun: SunEvents;
  readonly lastSunset: () => EpochMs | null;
  readonly socPct: number | null;
  readonly bankW: number | null;
  readonly panelsW: number | null;
  readonly chargersW: number;
  readonly loadsW: number | null;
  readonly minisplitW: number | null;
  readonly standingW: number | null;
  readonly inverterW: number | null;
  readonly unaccountedW: number | null;
  readonly surplusW: number | null;
  readonly outsideC: number | null;
  readonly outsideRhPct: number | null;
  readonly cabinC: number | null;
  readonly rhPct: number | null;
  readonly setpointC: number | null;
  /** The mini-split's power, and with it the standing load, is not measured. */
  readonly minisplitEstimated: boolean;
  readonly place: Place | null;
  readonly localDate: (tMs: EpochMs) => string;
  readonly capacityWh: number;
}

/** One step: begins a night, carries its sums, and gives its row when it ends. */
export function stepNight(state: NightState, s: NightStep): { state: NightState; row: NightRow | null } {
  return state.tonight === null ? { state: byDay(state, s), row: null } : byNight(state, state.tonight, s);
}

function byDay(state: NightState, s: NightStep): NightState {
  if (s.socPct === null || s.sun.kind !== 'events') return state;
  const isEvening = s.sun.isUp && s.sun.nextSunsetMs - s.tMs < EVENING_MS;
  const isDark = !s.sun.isUp && s.tMs - state.endedMs > 3_600_000;
  const outrun = s.bankW !== null && s.bankW < 0;
  if (!isDark && !(isEvening && outrun)) return state.evening === null ? state : { ...state, evening: null };
  const evening = added(state.evening ?? begun(s, s.socPct), s);
  const begins = isDark || s.tMs - evening.startMs >= TURN_MS;
  return begins ? { ...state, tonight: evening, evening: null } : { ...state, evening };
}

function begun(s: NightStep, startSocPct: number): Tonight {
  const events = s.sun.kind === 'events' ? s.sun : null;
  const sunsetMs = events?.isUp ? events.nextSunsetMs : (s.lastSunset() ?? s.tMs);
  return {
    startMs: s.tMs,
    sunsetMs,
    sunriseMs: events?.nextSunriseMs ?? null,
    startSocPct,
    sunriseSocPct: null,
    lowPct: startSocPct,
    lowMs: s.tMs,
    steps: 0,
    seen: 0,
    wh: { minisplit: 0, standing: 0, inverter: 0, panels: 0, chargers: 0, bankOut: 0, unexplained: 0, surplus: 0 },
    minisplitSeen: false,
    minisplitEstimated: false,
    outside: { sum: 0, count: 0, min: null, max: null },
    cabin: noMean,
    cabinRh: noMean,
    outsideRh: noMean,
    setpoints: {},
    projected: null,
    bedtimeMs: events && bedtimeMs(sunsetMs, events.nextSunriseMs, s.localDate),
    projectedAtBedtime: null,
  };
}

const noMean: Mean = { sum: 0, count: 0 };
const withValue = (m: Mean, value: number | null): Mean => (value === null ? m : { sum: m.sum + value, count: m.count + 1 });
const meanIn = (m: Mean): number | null => (m.count > 0 ? m.sum / m.count : null);

function withOutside({ sum, count, min, max = null }: Tonight['outside'], outsideC: number): Tonight['outside'] {
  const isUnknown = count > 0 && max === null;
  return { sum: sum + outsideC, count: count + 1, min: Math.min(min ?? outsideC, outsideC), max: isUnknown ? null : Math.max(max ?? outsideC, outsideC) };
}

const hasRisen = (n: Tonight, tMs: EpochMs): boolean => n.sunriseMs !== null && tMs >= n.sunriseMs;

/** The sums with one step more. */
function added(n: Tonight, s: NightStep): Tonight {
  const wh = (w: number | null): number => Math.max(0, w ?? 0) * s.dtH;
  const soc = s.socPct ?? n.lowPct;
  return {
    ...n,
    sunriseSocPct: hasRisen(n, s.tMs) ? (n.sunriseSocPct ?? s.socPct) : null,
    lowPct: Math.min(n.lowPct, soc),
    lowMs: soc < n.lowPct ? s.tMs : n.lowMs,
    steps: n.steps + 1,
    seen: n.seen + (s.bankW === null ? 0 : 1),
    wh: {
      minisplit: n.wh.minisplit + wh(s.minisplitW),
      standing: n.wh.standing + wh(s.standingW),
      inverter: n.wh.inverter + wh(s.inverterW),
      panels: n.wh.panels + wh(s.panelsW),
      chargers: n.wh.chargers + wh(s.chargersW),
      bankOut: n.wh.bankOut + wh(s.bankW === null ? null : -s.bankW),
      unexplained: n.wh.unexplained + wh(s.unaccountedW === null ? null : -s.unaccountedW),
      surplus: n.wh.surplus + wh(s.surplusW),
    },
    minisplitSeen: n.minisplitSeen || s.minisplitW !== null,
    minisplitEstimated: n.minisplitEstimated || s.minisplitEstimated,
    outside: s.outsideC === null ? n.outside : withOutside(n.outside, s.outsideC),
    cabin: withValue(n.cabin, s.cabinC),
    cabinRh: withValue(n.cabinRh, s.rhPct),
    outsideRh: withValue(n.outsideRh, s.outsideRhPct),
    setpoints: (n.sunsetMs !== null && s.tMs < n.sunsetMs) || hasRisen(n, s.tMs) ? n.setpoints : withSetting(n.setpoints, s.setpointC),
  };
}

function byNight(state: NightState, n: Tonight, s: NightStep): { state: NightState; row: NightRow | null } {
  const ahead = hasRisen(n, s.tMs) && s.panelsW !== null && s.loadsW !== null && s.panelsW >= s.loadsW;
  const turnMs = ahead ? (state.turnMs ?? s.tMs) : null;
  const tonight = added(n, s);
  const takeoverMs = turnMs !== null && s.tMs - turnMs >= TURN_MS ? turnMs : null;
  const lastMs = n.sunriseMs === null ? n.startMs + 24 * 3_600_000 : n.sunriseMs + AFTER_SUNRISE_MS;
  if (takeoverMs === null && s.tMs < lastMs) return { state: { ...state, tonight, turnMs }, row: null };
  return { state: { tonight: null, evening: null, turnMs: null, endedMs: s.tMs }, row: rowOf(tonight, s, takeoverMs) };
}

function rowOf(n: Tonight, s: NightStep, takeoverMs: EpochMs | null): NightRow {
  const round = (value: number, digits = 1): number => Math.round(value * 10 ** digits) / 10 ** digits;
  const expectedSteps = Math.max(1, (s.tMs - n.startMs) / 3_600_000 / s.dtH);
  const coverage = Math.min(1, n.seen / expectedSteps);
  const maybe = (value: number | null, digits = 1): number | null => (value === null ? null : round(value, digits));
  const dew = (air: Mean, rh: Mean): number | null => (air.count > 0 && rh.count > 0 ? maybe(dewPointC(air.sum / air.count, rh.sum / rh.count)) : null);
  const drawnWh = n.wh.minisplit + n.wh.standing + n.wh.inverter;
  return {
    nightId: s.localDate(n.sunsetMs ?? n.startMs),
    startMs: n.startMs,
    sunsetMs: n.sunsetMs,
    sunriseMs: n.sunriseMs,
    endMs: s.tMs,
    startSocPct: round(n.startSocPct, 2),
    sunriseSocPct: n.sunriseSocPct === null ? null : round(n.sunriseSocPct, 2),
    lowPointPct: round(n.lowPct, 2),
    lowPointMs: n.lowMs,
    takeoverMs,
    minisplitWh: n.minisplitSeen ? round(n.wh.minisplit) : null,
    standingWh: round(n.wh.standing),
    inverterWh: round(n.wh.inverter),
    panelsWh: round(n.wh.panels),
    chargersWh: round(n.wh.chargers),
    bankOutWh: round(n.wh.bankOut),
    unexplainedChargeWh: round(n.wh.unexplained),
    outsideMinC: n.outside.min === null ? null : round(n.outside.min),
    outsideMaxC: maybe(n.outside.max ?? null),
    outsideMeanC: n.outside.count > 0 ? round(n.outside.sum / n.outside.count, 2) : null,
    cabinMeanC: maybe(meanIn(n.cabin), 2),
    ...(n.minisplitEstimated && { minisplitEstimated: true }),
    setpointC: longestHeldC(n.setpoints),
    projectedAtSunset: n.projected,
    projectedAtBedtime: n.projectedAtBedtime,
    minisplitShare: n.minisplitSeen && drawnWh > 0 ? round(n.wh.minisplit / drawnWh, 3) : null,
    surplusWh: round(n.wh.surplus),
    dewPointC: dew({ sum: n.outside.sum, count: n.outside.count }, n.outsideRh),
    cabinDewPointC: dew(n.cabin, n.cabinRh),
    place: ledgerPlace(s.place),
    learnedFrom: coverage >= 0.8 && n.wh.unexplained < FOREIGN_SHARE * s.capacityWh,
    coverage: round(coverage, 3),
  };
}

/** Keeps the first projection made at sunset, and at bedtime, with the night it speaks of; none when the first one came long after. */
export function noteProjection(state: NightState, projection: Projection): NightState {
  const n = state.tonight;
  if (!n) return state;
  const isFirstAt = (momentMs: EpochMs | null, noted: Tonight['projected']): boolean =>
    noted === null && momentMs !== null && projection.tMs >= momentMs - 60_000 && projection.tMs <= momentMs + AT_MOMENT_MS;
  const said = { sunrise: projection.sunrise, lowPoint: projection.lowPoint };
  const atSunset = isFirstAt(n.sunsetMs, n.projected);
  const atBedtime = isFirstAt(n.bedtimeMs, n.projectedAtBedtime);
  if (!atSunset && !atBedtime) return state;
  return {
    ...state,
    tonight: { ...n, projected: atSunset ? said : n.projected, projectedAtBedtime: atBedtime ? said : n.projectedAtBedtime },
  };
}
