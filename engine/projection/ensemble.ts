import { openCircuit } from '../bank/lifepo4.ts';
import { ENVELOPE_H, linearPart, type MinisplitFit, minisplitW, SUN_H, slopesOf, softHinge } from '../cabin/minisplit-model.ts';
import { DEFAULT_SLOPE } from '../flows.ts';
import { type Random, seededRandom } from '../numeric/random.ts';
import type { Maybe } from '../numeric/series.ts';
import { type Course, driversAt, type PastDays, type Span } from './inputs.ts';
import type { Snapshot } from './snapshot.ts';

/** Quantiles of the share of clear-sky power that the coming morning gives, before any morning was seen: skewed, cloud is common. */
const PRIOR_INDEX = [0.15, 0.3, 0.45, 0.6, 0.7, 0.75, 0.8, 0.83] as const;
/** How long the panels must stay ahead of the loads to have taken over. */
const TAKEOVER_MS = 15 * 60_000;
/** How long a residual of the mini-split's power lasts, h. */
const RESIDUAL_H = 2;

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
  /** Standing load assumed where no day has been seen, W. */
  readonly standingGuessW: number;
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
}

const OCV = Float64Array.from({ length: 102 }, (_, i) => openCircuit(i / 100).voltageV);

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
  readonly random: Random;
}

/** Runs all members from now to the end of this night. */
export function runEnsemble(setup: Setup): Ensemble {
  const { span, members, snapshot } = setup;
  const { rig, learned } = snapshot;
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
  };
  const unit = unitOf(setup);
  const common: Common = {
    setup,
    unit,
    linears: unit && linearsOf(setup, unit),
    slope: rig.inverter ? (learned?.inverterSlope ?? DEFAULT_SLOPE) : 1,
    idleW: rig.inverter?.idleW ?? 0,
    ratedW: rig.panels.reduce((sum, p) => sum + p.ratedW, 0),
    random: seededRandom(setup.seed),
  };
  for (let m = 0; m < members; m++) runMember(common, e, m);
  for (const series of [e.minisplitW, e.standingW, e.inverterW, e.panelsW, e.surplusW])
    for (let k = 0; k < series.length; k++) series[k] = (series[k] as number) / members;
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

function linearsOf(setup: Setup, unit: Unit): PastDays | null {
  const { settings } = setup;
  return settings && { ...settings, traces: settings.traces.map((setpointsC) => (unitOf({ ...setup, setpointsC }) ?? unit).linear) };
}

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

function runMember({ setup, unit, linears, slope, idleW, ratedW, random }: Common, e: Ensemble, m: number): void {
  const { snapshot: s, span, course } = setup;
  const { learned, rig } = s;
  const fit = unit?.fit ?? null;
  const stepH = span.stepMs / 3_600_000;
  const outsideSd = learned?.outside.sd ?? 3;
  const phi = Math.exp(-stepH / (learned?.outside.correlationH ?? 7));
  const noise = Math.sqrt(1 - phi * phi) * outsideSd;
  const residualPhi = Math.exp(-stepH / RESIDUAL_H);
  const residualNoise = Math.sqrt(1 - residualPhi * residualPhi) * (fit?.residualSd ?? 0);
  const lagShare = 1 - Math.exp(-stepH / ENVELOPE_H);
  const sunShare = 1 - Math.exp(-stepH / SUN_H);
  const level = fit ? Math.exp(fit.levelSd * random.normal() - 0.5 * fit.levelSd ** 2) : 1;
  // Members walk the past days evenly, so that few members already carry all of them.
  const standingDay = drawDay(setup.standing, (m + random.uniform()) / setup.members);
  const panelDay = drawDay(setup.panels, random.uniform());
  const standingGuessW = setup.standingGuessW * Math.exp(0.35 * random.normal());
  const linear = drawDay(linears, linears === null ? 0 : random.uniform()) ?? unit?.linear;
  const guessIndex = PRIOR_INDEX[Math.min(PRIOR_INDEX.length - 1, Math.floor(random.uniform() * PRIOR_INDEX.length))] as number;
  const unlearnedW = learned?.minisplit || !rig.minisplit || s.modeIndex === 0 ? 0 : (setup.lastHourW ?? s.minisplitW ?? 0) * Math.exp(0.5 * random.normal());

  let soc = Math.min(1, Math.max(0, s.socFrac + s.socSd * random.normal()));
  let outsideError = 0;
  let lagError = 0;
  let residual = unit?.residualW ?? 0;
  let sunLag = s.sunLag;
  let currentA = 0;
  let aheadSteps = 0;
  const aheadEnough = Math.max(1, Math.ceil(TAKEOVER_MS / span.stepMs));
  e.soc[m] = soc;
  for (let k = 0; k < span.steps; k++) {
    const clearW = course.clearW[k] as number;
    const availableW = clearW > 0 ? clearW * (panelDay ? (panelDay[k] as number) : guessIndex) : 0;
    if (ratedW > 0) sunLag += sunShare * (availableW / ratedW - sunLag);
    let unitW = unlearnedW;
    if (unit && fit) {
      outsideError = phi * outsideError + noise * random.normal();
      lagError += lagShare * (outsideError - lagError);
      residual = residualPhi * residual + residualNoise * random.normal();
      const expected = softHinge(
        ((linear as Float64Array)[k] as number) + (unit.outside[k] as number) * outsideError + (unit.outsideLag[k] as number) * lagError + unit.sunLag * sunLag,
        fit.maxW,
      );
      const shiftW = setup.shiftW === undefined ? 0 : (setup.shiftW[k] as number);
      unitW = Math.min(fit.maxW, Math.max(0, (expected + shiftW) * level + residual * Math.min(1, expected / (0.05 * fit.maxW))));
    }
    const standingW = (standingDay ? (standingDay[k] as number) : standingGuessW) + (course.plannedW[k] as number);
    const loadsW = soc > 0 ? idleW + slope * unitW + standingW : 0;
    const ocvV = OCV[Math.round(soc * 100)] as number;
    const wantedA = (availableW - loadsW) / (rig.cells * (ocvV + currentA * s.cellOhm));
    // A nearly full bank takes only what lifts its voltage to the charger's limit.
    const takesA = soc > 0.9 ? (soc >= 1 ? 0 : Math.max(0, (3.5 - ocvV) / (1.5 * s.cellOhm))) : Number.POSITIVE_INFINITY;
    currentA = Math.min(wantedA, takesA);
    if (wantedA > takesA) e.surplusW[k] = (e.surplusW[k] as number) + (wantedA - takesA) * rig.cells * ocvV;
    soc = Math.min(1, Math.max(0, soc + (currentA * stepH) / rig.capacityAh));
    e.soc[(k + 1) * e.members + m] = soc;
    e.minisplitW[k] = (e.minisplitW[k] as number) + unitW;
    e.standingW[k] = (e.standingW[k] as number) + standingW;
    e.inverterW[k] = (e.inverterW[k] as number) + idleW + (slope - 1) * unitW;
    e.panelsW[k] = (e.panelsW[k] as number) + availableW;
    const afterSunrise = span.sunriseMs !== null && span.startMs + (k + 1) * span.stepMs > span.sunriseMs;
    aheadSteps = afterSunrise && availableW > 0 && availableW >= loadsW ? aheadSteps + 1 : 0;
    if (aheadSteps === aheadEnough && (e.takeoverStep[m] as number) < 0) e.takeoverStep[m] = k + 1 - aheadEnough;
  }
}
