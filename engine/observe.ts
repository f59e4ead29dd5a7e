import type { DayRow } from '../shared/schema/ledger.ts';
import { stepMeans } from './alarms/means.ts';
import { bankAt, isSilent, stepBank } from './bank/bank.ts';
import { chargerVolts, chemistryOf } from './bank/chemistry.ts';
import { refusesCharge } from './bank/cold.ts';
import { addStep, closeBin, emptySums } from './bins.ts';
import { ENVELOPE_H, SUN_H } from './cabin/minisplit-model.ts';
import { sharedOut, standInNowW } from './cabin/stand-ins.ts';
import { dateText } from './clock.ts';
import { nextRefit, projectJob, refitJob } from './due.ts';
import { balanceOf, inverterOf, type Powers, powersOf } from './flows.ts';
import { isUnexplained } from './history.ts';
import { habitBetween, holdMs, takeIn } from './intake.ts';
import { stepDay } from './ledger/day.ts';
import { isForeign, noteProjection, stepNight } from './ledger/night.ts';
import { lowPass, type Maybe } from './numeric/series.ts';
import { type PanelState, stepPanels } from './panels/index-state.ts';
import { surroundingsOf } from './panels/learn-stop.ts';
import { ratedPanelsW } from './panels/panel-model.ts';
import { type Sky, skyAt } from './panels/sky.ts';
import { judge, noteIssued } from './projection/calibration.ts';
import { type EngineState, ofThisBank } from './state.ts';
import { lastSunset } from './sun/sun.ts';
import { BIN_MS, type Bin, type EngineInputs, type EngineTime, type Job, type Observation, type RigModel, STEP_MS } from './types.ts';
import { bankView, watchedOf } from './views.ts';

const STEP_H = STEP_MS / 3_600_000;
const MINUTE_MS = 60_000;
/** Signals come at times of their own, so for moments their powers never add up. */
const UNEXPLAINED_H = 1 / 12;

/** One step on the 10 s grid: takes what came in since the last one, gives what is now known. */
export function observe(previous: EngineState, inputs: EngineInputs, time: EngineTime, rig: RigModel): Observation {
  const tMs = time.wallMs;
  const chemistry = chemistryOf(rig);
  const entered = takeIn(ofThisBank(previous, rig), inputs, rig, time);
  const value = (signal: string): Maybe => {
    const latest = entered.latest[signal];
    return latest && tMs - latest.tMs <= holdMs(rig, signal) ? latest.value : null;
  };
  const outsideC = value('outside.temperature');
  const known = entered.learned?.panels ?? null;
  const sky = skyAt(entered.sky, rig, entered.place, entered.headingDeg, tMs, { ...surroundingsOf(known), airC: outsideC });
  const powers = powersOf(value, rig, sky.dark);
  const bank = stepBank(entered.bank, tMs, rig);
  const voltageV = value('bank.voltage');
  const charger = chargerVolts(chemistry);
  const refused = refusesCharge(chemistry, {
    tempC: value('bank.temperature'),
    allowed: value('bank.chargeAllowed'),
    currentA: value('bank.current'),
    capacityAh: rig.capacityAh,
  });
  // A bank that refuses charge leaves the charger at its limit, wherever the voltage of the bank itself stands.
  const cellV = refused ? charger.limitV : voltageV === null ? null : voltageV / rig.cells;
  const panels = stepPanels(entered.panels, {
    tMs,
    dtH: STEP_H,
    panelsW: powers.panelsW,
    bankW: powers.bankW,
    cellV,
    charger,
    clearW: sky.clearW,
  });
  const believed = bankAt(bank, tMs, rig, habitBetween(entered.learned, bank.current?.tMs ?? tMs, tMs));
  const socPct = believed ? 100 * believed.socFrac : null;
  const setpointC = value('minisplit.setpoint') ?? rig.minisplit?.setpointC ?? null;
  const measured = { ...stepValues(entered, rig, powers, panels, sky, value), setpointC, outsideC };
  const ratedW = ratedPanelsW(rig);

  // What was announced is no habit: while it may run, the standing load is not told from it.
  const isPlanned = entered.plan.loads.some(({ startMs, endMs }) => startMs <= tMs && tMs < endMs);
  const { sums, bins } = binned(entered, { ...measured, ...(isPlanned && { standingW: null }), socFrac: believed?.socFrac ?? null }, tMs);
  const localDate = (ms: number): string => dateText(rig.timeZone, ms);
  let { day } = entered;
  const days: DayRow[] = [];
  for (const bin of bins) {
    const stepped = stepDay(day, bin, { localDate, place: entered.place, judgement: entered.learned?.judgement ?? null });
    day = stepped.state;
    if (stepped.row) days.push(stepped.row);
  }
  const capacityWh = rig.capacityAh * rig.cells * chemistry.meanV;
  const night = stepNight(entered.night, {
    ...withStandIn(measured, entered, rig, tMs),
    tMs,
    dtH: STEP_H,
    sun: entered.sun.events,
    lastSunset: () => lastSunset(entered.place, tMs),
    socPct,
    outsideRhPct: value('outside.humidity'),
    place: entered.place,
    localDate,
    capacityWh,
  });
  const { tonight } = night.state;
  const isJudged = powers.bankW !== null && !(tonight && isForeign(tonight, capacityWh));
  let state: EngineState = {
    ...entered,
    stepMs: tMs,
    bank,
    sky,
    panels,
    sums,
    outsideLagC: outsideC === null ? entered.outsideLagC : lowPass(entered.outsideLagC ?? outsideC, outsideC, STEP_H, ENVELOPE_H),
    sunLag: lowPass(entered.sunLag, ratedW > 0 ? (panels.expectedW ?? 0) / ratedW : 0, STEP_H, SUN_H),
    means: stepMeans(entered.means, {
      tMs,
      dtH: STEP_H,
      minisplitW: powers.minisplitW,
      unaccountedW: measured.unaccountedW,
      temperatures: rig.temperatures ?? [],
      value,
    }),
    unexplainedW: lowPass(entered.unexplainedW, Math.max(0, -(measured.unaccountedW ?? 0)), STEP_H, UNEXPLAINED_H),
    day,
    night: night.state,
    calibration: judge(entered.calibration, tMs, isJudged ? socPct : null),
  };
  const projection = inputs.results.findLast((result) => result.kind === 'project')?.projection ?? null;
  if (projection) {
    const sunsetMs = state.night.tonight?.sunsetMs ?? null;
    const calibration = sunsetMs === null ? state.calibration : noteIssued(state.calibration, projection, sunsetMs);
    state = { ...state, projection, calibration, night: noteProjection(state.night, projection) };
  }

  const jobs: Job[] = [];
  if (tMs >= state.refitDueMs || night.row !== null) {
    jobs.push(refitJob(state, rig, tMs));
    state = { ...state, refitDueMs: nextRefit(state, tMs) };
  }
  const bankSilent = isSilent(bank, tMs);
  if ((tMs % projectEveryMs(state) === 0 || inputs.projectNow) && believed) {
    const soFar = closeBin(sums);
    const standingW = isUnexplained(soFar) ? null : soFar.standingW;
    jobs.push(projectJob(state, rig, { tMs, bank: believed, bankSilent, setpointC, minisplitW: powers.minisplitW, standingW }));
  }
  return {
    state,
    bank: bankView(state, rig, tMs, believed),
    jobs,
    bins,
    nights: night.row ? [night.row] : [],
    days,
    projection,
    watched: watchedOf(state, rig, tMs, bankSilent),
  };
}

/** What a rig just set up draws may become known any moment, and a verdict by guess must not stand: until the first ten minutes of its bank have been seen. */
const projectEveryMs = ({ learned, day }: EngineState): number => ((learned?.nights ?? 0) === 0 && (day?.covered ?? 0) === 0 ? MINUTE_MS : BIN_MS);

/** The values with the mini-split's part told from the loads, where nothing measures it. */
function withStandIn<V extends Pick<Bin, 'loadsW' | 'minisplitW' | 'standingW' | 'inverterW' | 'cabinC' | 'setpointC'>>(
  v: V,
  { learned }: EngineState,
  rig: RigModel,
  tMs: number,
) {
  const estimatedW = v.minisplitW === null && learned?.standIns ? standInNowW(learned.standIns, { ...v, tMs }, rig) : null;
  if (estimatedW === null || v.loadsW === null) return { ...v, minisplitEstimated: false };
  return { ...v, ...sharedOut(v.loadsW, estimatedW, inverterOf(rig, learned) ?? { idleW: 0, slope: 1 }), minisplitEstimated: true };
}

/** The measured and derived quantities of one step. */
function stepValues(state: EngineState, rig: RigModel, powers: Powers, panels: PanelState, sky: Sky, value: (signal: string) => Maybe) {
  const balance = balanceOf(powers, rig, inverterOf(rig, state.learned));
  const thrownAway = panels.curtailed && panels.expectedW !== null && powers.panelsW !== null;
  return {
    voltageV: value('bank.voltage'),
    bankW: powers.bankW,
    panelsW: powers.panelsW,
    chargersW: powers.chargers.reduce((sum, c) => sum + (c.powerW ?? 0), 0),
    ...balance,
    surplusW: thrownAway ? Math.max(0, (panels.expectedW as number) - (powers.panelsW as number)) : 0,
    cabinC: value('cabin.temperature'),
    rhPct: value('cabin.humidity'),
    clearW: sky.clearW,
    modeIndex: value('minisplit.mode') ?? rig.minisplit?.modeIndex ?? null,
    curtailed: panels.curtailed,
  };
}

/** Adds the step to the bin under way; gives the bin when the step begins the next one. */
function binned(state: EngineState, values: Parameters<typeof addStep>[1], tMs: number): { sums: EngineState['sums']; bins: Bin[] } {
  const ended = tMs - state.sums.startMs >= BIN_MS;
  const bins = ended && state.sums.steps > 0 ? [closeBin(state.sums)] : [];
  return { sums: addStep(ended ? emptySums(Math.floor(tMs / BIN_MS) * BIN_MS) : state.sums, values), bins };
}
