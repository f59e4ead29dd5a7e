import { type Chemistry, chemistryOf } from '../bank/chemistry.ts';
import { openCircuit } from '../bank/curve.ts';
import { ENVELOPE_H, linearPart, type MinisplitFit, minisplitW, SUN_H, slopesOf, softHinge } from '../cabin/minisplit-model.ts';
import { inverterOf } from '../flows.ts';
import type { LoadGuess } from '../loads/first-guess.ts';
import { type Random, seededRandom } from '../numeric/random.ts';
import { clamp, type Maybe } from '../numeric/series.ts';
import { ratedPanelsW } from '../panels/panel-model.ts';
import { type BankLimits, bankLimits } from './bank-limits.ts';
import { type Course, driversAt, type PastDays, type Span } from './inputs.ts';
import { priorIndexes } from './light.ts';
import type { Snapshot } from './snapshot.ts';

/** How long the panels must stay ahead of the loads to have taken over. */
const TAKEOVER_MS = 15 * 60_000;
/** How long a residual of the mini-split's power lasts, h; it fades with a unit that is asked for less than this share of its most. */
const RESIDUAL_H = 2;
const RESTING_SHARE = 0.05;
const NO_SERIES = new Float64Array(0);
/** Another charger that runs now may stop soon or run all night, and nobody has said which: so many hours, any factor between them alike likely. */
const CHARGER_H = [0.5, 12] as const;
/** How far a night of the mini-split may lie from a past one, when nothing is known of its weather; as the logarithm of a factor. */
const PAST_UNIT_SD = 0.25;

/** What an ensemble starts from. */
export interface Setup {
  readonly snapshot: Snapshot;
  readonly span: Span;
  readonly course: Course;
  readonly standing: PastDays | null;
  readonly panels: PastDays | null;
  /** Mean power of the mini-split over the last hour, W; and whether that hour was a pull-down. */
  readonly lastHourW: Maybe;
  readonly pulledDown: boolean;
  /** Past days of the mini-split, for nights of which no weather or no setpoint is known; null where its model can run. */
  readonly unitDays: PastDays | null;
  /** What chargers other than the panels give now, W. */
  readonly chargersW: number;
  /** Loads assumed where no day has been seen; no mini-split where nothing measures it. */
  readonly guess: { readonly standing: LoadGuess; readonly minisplit: LoadGuess | null };
  readonly setpointC: number | null;
  /** Setpoints by step where they change in the night; left out: `setpointC` throughout. */
  readonly setpointsC?: Float64Array;
  /** Where the person may set the thermostat in the night, by what they did on past days; null where they leave it. */
  readonly settings: PastDays | null;
  /** Power of the mini-split by step over what its weather and setpoint ask for, W: after a change of setpoint, or off. */
  readonly shiftW?: Float64Array;
  readonly members: number;
  readonly seed: number;
}

/** State of charge at every step of every member (row a step, column a member), and the mean powers. */
export interface Ensemble {
  readonly members: number;
  readonly steps: number;
  /** steps + 1 rows; row 0 is now. */
  readonly soc: Float64Array;
  readonly takeoverStep: Int32Array;
  readonly minisplitW: Float64Array;
  readonly standingW: Float64Array;
  readonly inverterW: Float64Array;
  readonly panelsW: Float64Array;
  /** Of the panels' power, what the bank no longer takes. */
  readonly surplusW: Float64Array;
  readonly limits: BankLimits;
}

/** Rested voltage over a cell by percent of the state of charge, V. */
const voltagesOf = (c: Chemistry): Float64Array => Float64Array.from({ length: 102 }, (_, i) => openCircuit(c, i / 100).voltageV);

/** The mini-split as the members run it: its linear part on the mean course, and how the members' own weather moves it. */
interface Unit {
  readonly fit: MinisplitFit;
  readonly linear: Float64Array;
  /** How the outdoor temperature, its lag and the lagged sun move it, step by step. */
  readonly outside: Float64Array;
  readonly outsideLag: Float64Array;
  readonly sunLag: number;
  /** Power now over what the model expects, W. */
  readonly residualW: number;
}

/** What all members share. */
interface Common {
  readonly setup: Setup;
  readonly unit: Unit | null;
  /** The unit's linear part for each of the past days' settings. */
  readonly linears: PastDays | null;
  readonly slope: number;
  readonly idleW: number;
  readonly ratedW: number;
  readonly chemistry: Chemistry;
  readonly ocv: Float64Array;
  /** What is believed of the index where no days are given. */
  readonly indexes: readonly number[];
  readonly random: Random;
}

/** Runs all members from now to the end of this night. */
export function runEnsemble(setup: Setup): Ensemble {
  const { span, members, snapshot } = setup;
  const { rig, learned } = snapshot;
  const chemistry = chemistryOf(rig);
  const e: Ensemble = {
    members,
    steps: span.steps,
    soc: new Float64Array((span.steps + 1) * members),
    takeoverStep: new Int32Array(members).fill(-1),
    minisplitW: new Float64Array(span.steps),
    standingW: new Float64Array(span.steps),
    inverterW: new Float64Array(span.steps),
    panelsW: new Float64Array(span.steps),
    surplusW: new Float64Array(span.steps),
    limits: bankLimits(snapshot, setup.course, span),
  };
  const unit = unitOf(setup);
  const inverter = inverterOf(rig, learned);
  const common: Common = {
    setup,
    unit,
    linears: unit && linearsOf(setup, unit),
    slope: inverter?.slope ?? 1,
    idleW: inverter?.idleW ?? 0,
    chemistry,
    ocv: voltagesOf(chemistry),
    ratedW: ratedPanelsW(rig),
    indexes: priorIndexes(learned),
    random: seededRandom(setup.seed),
  };
  for (let m = 0; m < members; m++) runMember(common, e, m);
  for (const series of [e.minisplitW, e.standingW, e.panelsW, e.surplusW]) for (let k = 0; k < series.length; k++) series[k] = (series[k] as number) / members;
  e.inverterW.set(e.minisplitW.map((w) => common.idleW + (common.slope - 1) * w));
  return e;
}

/** Null where no model of the mini-split can run: nothing learned, no weather, no setpoint, or the unit is off. */
function unitOf({ snapshot: s, course, span, setpointC, setpointsC, lastHourW, pulledDown }: Setup): Unit | null {
  const fit = s.learned?.minisplit ?? null;
  if (fit === null || setpointC === null || !course.hasWeather || s.modeIndex === 0) return null;
  const drivers = Array.from({ length: span.steps }, (_, k) => {
    const d = driversAt(s, course, span.stepMs, k, setpointC, 0);
    const thenC = setpointsC?.[k];
    // What the change itself brings is in the shift; the cabin's distance from its setpoint stays that of now.
    return thenC === undefined ? d : { ...d, setpointC: thenC, cabinC: d.cabinC + thenC - setpointC };
  });
  const slopes = drivers.map((d) => slopesOf(fit, d));
  const linear = Float64Array.from(drivers, (d) => linearPart(fit, d));
  const sunLag = slopes[0]?.sunLag ?? 0;
  // What the unit drew beyond the model belongs to the setpoint in force, and goes with every setpoint that is tried.
  const expectedW = s.setpointC === null ? null : minisplitW(fit, driversAt(s, course, span.stepMs, 0, s.setpointC, s.sunLag));
  return {
    fit,
    linear,
    outside: Float64Array.from(slopes, (slope) => slope.outside),
    outsideLag: Float64Array.from(slopes, (slope) => slope.outsideLag),
    sunLag,
    residualW: lastHourW === null || expectedW === null || pulledDown ? 0 : 0.7 * (lastHourW - expectedW),
  };
}

/** The unit's linear part as each past day's settings have it; worked out once for each setpoint among them. */
function linearsOf(setup: Setup, unit: Unit): PastDays | null {
  const { settings, span } = setup;
  if (settings === null) return null;
  const bySetpoint = new Map<number, Float64Array>();
  const linearAt = (setpointC: number): Float64Array => {
    const known = bySetpoint.get(setpointC);
    if (known) return known;
    const { linear } = unitOf({ ...setup, setpointsC: new Float64Array(span.steps).fill(setpointC) }) ?? unit;
    bySetpoint.set(setpointC, linear);
    return linear;
  };
  return { ...settings, traces: settings.traces.map((trace) => trace.map((setpointC, k) => linearAt(setpointC)[k] as number)) };
}

const guessedW = ({ medianW, logSd }: LoadGuess, random: Random): number => medianW * Math.exp(logSd * random.normal());

/** Draws a past day by its weight. */
function drawDay(days: PastDays | null, u: number): Float64Array | null {
  if (days === null || days.traces.length === 0) return null;
  let left = u * days.weights.reduce((a, b) => a + b, 0);
  for (let i = 0; i < days.traces.length; i++) {
    left -= days.weights[i] as number;
    if (left <= 0) return days.traces[i] as Float64Array;
  }
  return days.traces[days.traces.length - 1] as Float64Array;
}

function runMember({ setup, unit, linears, slope, idleW, ratedW, chemistry, ocv, indexes, random }: Common, e: Ensemble, m: number): void {
  const { snapshot: s, span, course } = setup;
  const { learned, rig } = s;
  const { steps } = span;
  const { fromFrac, limitV, ohms } = chemistry.acceptance;
  const { blocked } = e.limits;
  const stepH = span.stepMs / 3_600_000;
  const outsideSd = learned?.outside.sd ?? 3;
  const phi = Math.exp(-stepH / (learned?.outside.correlationH ?? 7));
  const noise = Math.sqrt(1 - phi * phi) * outsideSd;
  const residualPhi = Math.exp(-stepH / RESIDUAL_H);
  const residualNoise = Math.sqrt(1 - residualPhi * residualPhi) * (unit?.fit.residualSd ?? 0);
  const lagShare = 1 - Math.exp(-stepH / ENVELOPE_H);
  const sunShare = ratedW > 0 ? 1 - Math.exp(-stepH / SUN_H) : 0;
  const perRatedW = ratedW > 0 ? 1 / ratedW : 0;
  const level = unit ? Math.exp(unit.fit.levelSd * random.normal() - 0.5 * unit.fit.levelSd ** 2) : 1;
  // Members walk the past days evenly, so that few members already carry all of them.
  const standingDay = drawDay(setup.standing, (m + random.uniform()) / setup.members);
  const panelDay = drawDay(setup.panels, random.uniform());
  const standingGuessW = guessedW(setup.guess.standing, random);
  const linear = drawDay(linears, linears === null ? 0 : random.uniform()) ?? unit?.linear ?? NO_SERIES;
  const guessIndex = indexes[Math.min(indexes.length - 1, Math.floor(random.uniform() * indexes.length))] as number;
  const unlearnedW = unit || !setup.guess.minisplit || s.modeIndex === 0 ? 0 : guessedW(setup.guess.minisplit, random);
  const unitDay = unit || !rig.minisplit || s.modeIndex === 0 ? null : drawDay(setup.unitDays, random.uniform());
  const unitScale = unitDay ? Math.exp(PAST_UNIT_SD * random.normal()) : 0;
  const { chargersW } = setup;
  const chargerSteps = chargersW > 0 ? (CHARGER_H[0] * (CHARGER_H[1] / CHARGER_H[0]) ** random.uniform()) / stepH : 0;
  const { clearW, plannedW } = course;
  const outsideSlope = unit?.outside ?? NO_SERIES;
  const lagSlope = unit?.outsideLag ?? NO_SERIES;
  const sunSlope = unit?.sunLag ?? 0;
  const maxW = unit?.fit.maxW ?? 0;
  const shiftW = setup.shiftW ?? null;
  const { minisplitW, standingW, panelsW, surplusW, soc: kept, members } = e;
  const { cells } = rig;
  const { cellOhm, unseenA } = s;
  const keptShare = 1 - s.lossFrac;
  const perCellOhm = 1 / (ohms * cellOhm);
  const ahPerStep = stepH / rig.capacityAh;

  let soc = Math.min(1, Math.max(0, s.socFrac + s.socSd * random.normal()));
  let outsideError = 0;
  let lagError = 0;
  let residual = unit?.residualW ?? 0;
  let sunLag = s.sunLag;
  let currentA = 0;
  let aheadSteps = 0;
  const aheadEnough = Math.max(1, Math.ceil(TAKEOVER_MS / span.stepMs));
  const litFrom = span.sunriseMs === null ? steps : Math.floor((span.sunriseMs - span.startMs) / span.stepMs);
  kept[m] = soc;
  for (let k = 0; k < steps; k++) {
    const clear = clearW[k] as number;
    const availableW = clear > 0 ? clear * (panelDay ? (panelDay[k] as number) : guessIndex) : 0;
    sunLag += sunShare * (availableW * perRatedW - sunLag);
    let unitW = unitDay ? unitScale * (unitDay[k] as number) : unlearnedW;
    if (unit) {
      outsideError = phi * outsideError + noise * random.normal();
      lagError += lagShare * (outsideError - lagError);
      residual = residualPhi * residual + residualNoise * random.normal();
      const asked = (linear[k] as number) + (outsideSlope[k] as number) * outsideError + (lagSlope[k] as number) * lagError + sunSlope * sunLag;
      const expected = softHinge(asked, maxW);
      const ready = expected < RESTING_SHARE * maxW ? expected / (RESTING_SHARE * maxW) : 1;
      unitW = clamp((expected + (shiftW ? (shiftW[k] as number) : 0)) * level + residual * ready, 0, maxW);
    }
    const otherW = (standingDay ? (standingDay[k] as number) : standingGuessW) + (plannedW[k] as number);
    const loadsW = soc > 0 ? idleW + slope * unitW + otherW : 0;
    const ocvV = ocv[Math.round(soc * 100)] as number;
    const sourcesW = k < chargerSteps ? availableW + chargersW : availableW;
    currentA = (sourcesW - loadsW) / (cells * (ocvV + currentA * cellOhm));
    const isBlocked = blocked !== null && blocked[k] === 1;
    if (isBlocked || soc > fromFrac) {
      // A bank too cold takes nothing; a nearly full one only what lifts its voltage to the charger's limit.
      const takesA = isBlocked || soc >= 1 ? 0 : Math.max(0, (limitV - ocvV) * perCellOhm);
      if (currentA > takesA) {
        surplusW[k] = (surplusW[k] as number) + (currentA - takesA) * cells * ocvV;
        currentA = takesA;
      }
    }
    soc = clamp(soc + ((currentA > 0 ? keptShare * currentA : currentA) + unseenA) * ahPerStep, 0, 1);
    kept[(k + 1) * members + m] = soc;
    minisplitW[k] = (minisplitW[k] as number) + unitW;
    standingW[k] = (standingW[k] as number) + otherW;
    panelsW[k] = (panelsW[k] as number) + availableW;
    if (k < litFrom) continue;
    aheadSteps = availableW > 0 && availableW >= loadsW ? aheadSteps + 1 : 0;
    if (aheadSteps === aheadEnough && (e.takeoverStep[m] as number) < 0) e.takeoverStep[m] = k + 1 - aheadEnough;
  }
}
