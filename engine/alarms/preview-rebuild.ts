import type { BankView } from '../../shared/schema/flows.ts';
import type { Projection } from '../../shared/schema/projection.ts';
import type { EpochMs } from '../../shared/units.ts';
import { type BankState, isSilent, seeCurrent, seeVoltage, stepBank } from '../bank/bank.ts';
import { chargerVolts, chemistryOf } from '../bank/chemistry.ts';
import { refusesCharge } from '../bank/cold.ts';
import { balanceOf, inverterOf, powersOf } from '../flows.ts';
import { holdMs } from '../intake.ts';
import type { Maybe } from '../numeric/series.ts';
import { initialPanels, stepPanels } from '../panels/index-state.ts';
import { surroundingsOf } from '../panels/learn-stop.ts';
import { skyAt, unknownSky } from '../panels/sky.ts';
import { BIN_MS, type EngineState, type RigModel } from '../types.ts';
import { watchedOf } from '../views.ts';
import { initialMeans, stepMeans } from './means.ts';
import type { PastNeeds } from './preview-needs.ts';
import { cursorOf, type KeptProjection, type MinuteSeries, type StoredPast, socPctAt } from './preview-past.ts';
import { type Quantities, quantitiesOf } from './quantities.ts';
import { noBox } from './seen.ts';

const MINUTE_MS = 60_000;
const MINUTE_H = 1 / 60;
/** Of time that was made up for after a start one projection an hour is kept: each speaks until the next. */
const HOURLY_MS = 3_600_000 + BIN_MS;

/** Of the view of the bank rules look at the state of charge and its doubt alone. */
const VIEW: BankView = { socPct: null, socSigmaPct: 0, anchoredMs: null, deviceSocPct: null, capacityAh: 0, voltageV: null, currentA: null, remarks: [] };

/** The engine's state as alarms would have seen it, minute by minute, from what is stored. What was learned is as of today. */
export interface Rebuilt {
  /** Goes on to the next stretch. */
  enter(past: StoredPast): void;
  /** Takes in the minute of the stretch that ends at `tMs`; false where the engine did not run. */
  minute(tMs: EpochMs): boolean;
  /** A value that counts at the moment went up or down within the minute. */
  varies(): boolean;
  /** What rules look at, in that minute: with its least values, its greatest, or its means. */
  look(at: Look, tMs: EpochMs): Quantities;
}

export type Look = 'min' | 'max' | 'mean';

interface Seen {
  value: number;
  tMs: EpochMs;
}
type Latest = Record<string, Seen>;

/** @param now  the engine as it is; @param sinceMs  where the past begins */
export function createRebuilt(rig: RigModel, now: EngineState, needs: PastNeeds, sinceMs: EpochMs): Rebuilt {
  const wasFullBefore = now.bank.anchoredMs !== null && now.bank.anchoredMs <= sinceMs;
  // Changed in place, both: copies of them, minute by minute, would be half of the work.
  const latest: Readonly<Record<Look, Latest>> = { min: {}, mean: {}, max: {} };
  const state: { -readonly [K in keyof EngineState]: EngineState[K] } = {
    ...now,
    sinceMs: Math.max(now.sinceMs, sinceMs),
    latest: latest.mean,
    bank: {
      ...now.bank,
      ...{ current: null, voltage: null, before: null, fullRun: null, closings: [], resync: null, deviceMark: null },
      ...{ deviceFrac: null, deviceMs: 0, heededMs: 0, anchoredMs: wasFullBefore ? now.bank.anchoredMs : null },
    },
    means: initialMeans,
    panels: initialPanels,
    sky: unknownSky,
    projection: null,
  };
  // Before the first full charge of the past nobody can tell when the last one was, unless there was none since the engine began.
  const knowsFull = (): boolean => state.bank.anchoredMs !== null || now.sinceMs >= sinceMs;
  let past: StoredPast = { fromMs: 0, toMs: 0, signals: new Map(), bins: [], projections: [] };
  let heard: readonly { readonly signal: string; readonly series: MinuteSeries; readonly beforeEndMs: number }[] = [];
  let bins = cursorOf(past.bins);
  let projections = cursorOf(past.projections);
  let socPct: Maybe = null;
  let socSd = 0.3;
  let index = 0;
  let kept: KeptProjection | null = null;

  const value =
    (tMs: EpochMs) =>
    (signal: string): Maybe => {
      const latest = state.latest[signal];
      return latest && tMs - latest.tMs <= holdMs(rig, signal) ? latest.value : null;
    };

  /** Takes in the last values of a minute, as a look at `tMs` sees them: those of the minute, else what was heard before it. */
  function hear(at: Look, tMs: EpochMs): void {
    const into = latest[at];
    for (const { signal, series, beforeEndMs } of heard) {
      const found = series[at][index] as number;
      const known = into[signal];
      const isHeard = !Number.isNaN(found);
      const before = latest.mean[signal];
      if (!isHeard && (at === 'mean' || !before)) continue;
      const value = isHeard ? found : (before as Seen).value;
      const seenMs = isHeard ? tMs - beforeEndMs : (before as Seen).tMs;
      if (known) {
        known.value = value;
        known.tMs = seenMs;
      } else into[signal] = { value, tMs: seenMs };
    }
  }

  function bankIn(tMs: EpochMs): BankState {
    let { bank } = state;
    const seen = (signal: string): Maybe => {
      const found = past.signals.get(signal)?.mean[index];
      return found === undefined || Number.isNaN(found) ? null : found;
    };
    const [volts, amps, device] = ['bank.voltage', 'bank.current', 'bank.stateOfCharge'].map(seen);
    if (volts != null) bank = seeVoltage(bank, tMs, volts);
    if (amps != null) bank = seeCurrent(bank, tMs, amps, rig, Math.max(holdMs(rig, 'bank.current'), MINUTE_MS), null);
    if (device != null) bank = { ...bank, deviceFrac: device / 100, deviceMs: tMs };
    if (!needs.full || socPct === null) return bank;
    // What was believed stands as it is stored; only whether the bank was full is found anew.
    const belief = bank.belief && { ...bank.belief, socFrac: socPct / 100, cov: [socSd * socSd, ...bank.belief.cov.slice(1)] };
    return { ...stepBank({ ...bank, belief, closings: [] }, tMs, rig), belief };
  }

  function projectIn(tMs: EpochMs): void {
    // One that is made at the end of a minute comes in after it.
    const { item, after } = projections.at(tMs - 1);
    if (item === kept) return;
    kept = item;
    if (item === null) return;
    const gapMs = after === null ? 0 : after.tMs - item.tMs;
    state.projection = asProjection(item, after !== null && gapMs > BIN_MS && gapMs <= HOURLY_MS ? after.tMs : item.tMs, rig);
    socSd = item.socSigmaPct / 100;
  }

  function powersIn(tMs: EpochMs): void {
    const now = value(tMs);
    if (needs.panels) {
      const [lat, lon] = [state.latest['place.lat'], state.latest['place.lon']];
      const place = lat && lon ? { latitudeDeg: lat.value, longitudeDeg: lon.value } : state.place;
      const headingDeg = state.latest['place.heading']?.value ?? state.headingDeg;
      const known = state.learned?.panels ?? null;
      const sky = skyAt(state.sky, rig, place, headingDeg, tMs, { ...surroundingsOf(known), airC: null });
      Object.assign(state, { sky, place, headingDeg });
    }
    const powers = powersOf(now, rig, state.sky.dark);
    if (needs.panels) {
      const chemistry = chemistryOf(rig);
      const charger = chargerVolts(chemistry);
      const voltageV = now('bank.voltage');
      const asked = { tempC: now('bank.temperature'), allowed: now('bank.chargeAllowed'), currentA: now('bank.current'), capacityAh: rig.capacityAh };
      const cellV = refusesCharge(chemistry, asked) ? charger.limitV : voltageV === null ? null : voltageV / rig.cells;
      const { panelsW, bankW } = powers;
      state.panels = stepPanels(state.panels, { tMs, dtH: MINUTE_H, panelsW, bankW, cellV, charger, clearW: state.sky.clearW });
    }
    if (!needs.means) return;
    const { unaccountedW } = balanceOf(powers, rig, inverterOf(rig, state.learned));
    const witness = { tMs, dtH: MINUTE_H, minisplitW: powers.minisplitW, unaccountedW, temperatures: rig.temperatures ?? [], value: now };
    state.means = stepMeans(state.means, witness);
  }

  return {
    enter(next) {
      past = next;
      // The last reading of a minute came, on average, half its cadence before the end.
      heard = [...past.signals].map(([signal, series]) => ({ signal, series, beforeEndMs: 500 * Math.min(60, rig.everyS.get(signal) ?? 60) }));
      bins = cursorOf(past.bins);
      projections = cursorOf(past.projections);
    },
    minute(tMs) {
      index = Math.round((tMs - past.fromMs) / MINUTE_MS) - 1;
      const { item, before, after } = bins.at(tMs - 1);
      const isUnderWay = item === null || (after === null && tMs > item.tMs + BIN_MS);
      const ran = item !== null && (tMs <= item.tMs + BIN_MS || (isUnderWay && tMs <= item.tMs + 2 * BIN_MS));
      state.stepMs = tMs;
      hear('mean', tMs);
      if (needs.projections) projectIn(tMs);
      socPct = needs.charge && ran ? socPctAt(tMs, item, before) : null;
      state.bank = bankIn(tMs);
      if (needs.panels || needs.means) powersIn(tMs);
      return ran;
    },
    varies: () =>
      needs.momentary.some((signal) => {
        const series = past.signals.get(signal);
        return series !== undefined && (series.min[index] as number) < (series.max[index] as number);
      }),
    look(at, tMs) {
      if (at !== 'mean') hear(at, tMs);
      const seen: EngineState = at === 'mean' ? state : { ...state, latest: latest[at] };
      const bank = { ...VIEW, socPct, socSigmaPct: 100 * socSd };
      const observation = { state: seen, bank, watched: watchedOf(seen, rig, tMs, isSilent(seen.bank, tMs)) };
      const of = quantitiesOf(observation, rig, noBox, tMs);
      return {
        ...of,
        value: (name) => (name === 'bank.daysSinceFull' && !knowsFull() ? null : of.value(name)),
        // Nobody reads what it would have said.
        whyUnknown: () => '',
        words: () => '',
      };
    },
  };
}

/** A kept projection with what is worked out from it; what only texts need is left plain. */
function asProjection(kept: KeptProjection, tMs: EpochMs, rig: RigModel): Projection {
  const capacityWh = rig.capacityAh * rig.cells * chemistryOf(rig).meanV;
  return {
    ...kept,
    tMs,
    socPct: 0,
    takeover: null,
    takeoverProbability: 0,
    belowFloorMs: null,
    marginWh: ((kept.lowPoint.p50Pct - kept.floorPct) / 100) * capacityWh,
    ...{ nightStartMs: tMs, nightEndMs: tMs, nights: 0, verdict: 'unknown', doubts: [], curve: [], ladder: [] },
    energyWh: { minisplit: 0, standing: 0, inverter: 0, panels: 0 },
  };
}
