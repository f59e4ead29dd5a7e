import { openCircuit } from '../bank/lifepo4.ts';
import { ENVELOPE_H, minisplitW } from '../cabin/minisplit-model.ts';
import { DEFAULT_SLOPE } from '../flows.ts';
import { lowPass, type Maybe } from '../numeric/series.ts';
import { type Random, seededRandom } from '../numeric/random.ts';
import { BIN_MS } from '../types.ts';
import { type Course, driversAt, nextSunLag, type PastDays, type Span } from './inputs.ts';
import type { Snapshot } from './snapshot.ts';

const STEP_H = BIN_MS / 3_600_000;
/** Quantiles of the share of clear-sky power that the coming morning gives, before any morning was seen: skewed, cloud is common. */
const PRIOR_INDEX = [0.15, 0.3, 0.45, 0.6, 0.7, 0.75, 0.8, 0.83] as const;
/** How long a residual of the mini-split's power lasts, h. */
const RESIDUAL_H = 2;

/** What an ensemble starts from. */
export interface Setup {
  readonly snapshot: Snapshot;
  readonly span: Span;
  readonly course: Course;
  readonly standing: PastDays | null;
  readonly panels: PastDays | null;
  /** Mean power of the mini-split over the last hour, W. */
  readonly lastHourW: Maybe;
  /** Standing load assumed where no day has been seen, W. */
  readonly standingGuessW: number;
  readonly setpointC: number | null;
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
}

const OCV = Float64Array.from({ length: 102 }, (_, i) => openCircuit(i / 100).voltageV);

/** Runs all members from now to the end of this night. */
export function runEnsemble(setup: Setup): Ensemble {
  const { span, members } = setup;
  const e: Ensemble = {
    members, steps: span.steps, soc: new Float64Array((span.steps + 1) * members), takeoverStep: new Int32Array(members).fill(-1),
    minisplitW: new Float64Array(span.steps), standingW: new Float64Array(span.steps), inverterW: new Float64Array(span.steps), panelsW: new Float64Array(span.steps),
  };
  const random = seededRandom(setup.seed);
  for (let m = 0; m < members; m++) runMember(setup, e, m, random);
  for (const series of [e.minisplitW, e.standingW, e.inverterW, e.panelsW]) for (let k = 0; k < series.length; k++) series[k] = (series[k] as number) / members;
  return e;
}

/** Draws a past day by its weight; members walk the days evenly (stratified), so that few members already carry all of them. */
function drawDay(days: PastDays, u: number): Float64Array {
  const total = days.weights.reduce((a, b) => a + b, 0);
  let left = u * total;
  for (let i = 0; i < days.traces.length; i++) {
    left -= days.weights[i] as number;
    if (left <= 0) return days.traces[i] as Float64Array;
  }
  return days.traces[days.traces.length - 1] as Float64Array;
}

function runMember(setup: Setup, e: Ensemble, m: number, random: Random): void {
  const { snapshot: s, span, course } = setup;
  const { learned, rig } = s;
  const fit = learned?.minisplit ?? null;
  const off = s.modeIndex === 0;
  const cooled = fit !== null && setup.setpointC !== null && course.hasWeather && !off;
  const slope = rig.inverter ? (learned?.inverterSlope ?? DEFAULT_SLOPE) : 1;
  const idleW = rig.inverter?.idleW ?? 0;
  const ratedW = rig.panels.reduce((sum, p) => sum + p.ratedW, 0);
  const outsideSd = learned?.outside.sd ?? 3;
  const phi = Math.exp(-STEP_H / (learned?.outside.correlationH ?? 7));
  const residualPhi = Math.exp(-STEP_H / RESIDUAL_H);
  const residualSd = fit?.residualSd ?? 0;
  const level = fit ? Math.exp(fit.levelSd * random.normal() - 0.5 * fit.levelSd ** 2) : 1;
  const noise = Math.sqrt(1 - phi * phi) * outsideSd;
  const residualNoise = Math.sqrt(1 - residualPhi * residualPhi) * residualSd;
  const u = (m + random.uniform()) / setup.members;
  const standingDay = setup.standing && setup.standing.traces.length > 0 ? drawDay(setup.standing, (u * 7919) % 1) : null;
  const standingShare = standingDay ? 1 : Math.exp(0.35 * random.normal());
  const panelDay = setup.panels && setup.panels.traces.length > 0 ? drawDay(setup.panels, random.uniform()) : null;
  const priorIndex = PRIOR_INDEX[Math.min(PRIOR_INDEX.length - 1, Math.floor(random.uniform() * PRIOR_INDEX.length))] as number;
  const unlearnedMinisplitW = fit || !rig.minisplit ? 0 : (setup.lastHourW ?? s.minisplitW ?? 0) * Math.exp(0.5 * random.normal());

  let soc = Math.min(1, Math.max(0, s.socFrac + s.socSd * random.normal()));
  let outsideError = 0;
  let lagError = 0;
  let residual = cooled && fit && setup.lastHourW !== null && setup.setpointC === s.setpointC ? 0.7 * (setup.lastHourW - minisplitW(fit, driversAt(s, course, 0, setup.setpointC as number, s.sunLag))) : 0;
  let sunLag = s.sunLag;
  let currentA = 0;
  let aheadSteps = 0;
  e.soc[m] = soc;
  for (let k = 0; k < span.steps; k++) {
    const clearW = course.clearW[k] as number;
    const availableW = clearW > 0 ? clearW * (panelDay ? (panelDay[k] as number) : priorIndex) : 0;
    sunLag = nextSunLag(sunLag, availableW, ratedW);
    let unitW = unlearnedMinisplitW;
    if (cooled && fit) {
      outsideError = phi * outsideError + noise * random.normal();
      lagError = lowPass(lagError, outsideError, STEP_H, ENVELOPE_H);
      const d = driversAt(s, course, k, setup.setpointC as number, sunLag);
      const expected = minisplitW(fit, { ...d, outsideC: d.outsideC + outsideError, outsideLagC: d.outsideLagC + lagError });
      residual = residualPhi * residual + residualNoise * random.normal();
      unitW = Math.min(fit.maxW, Math.max(0, expected * level + residual * Math.min(1, expected / (0.05 * fit.maxW))));
    }
    const standingW = (standingDay ? (standingDay[k] as number) : setup.standingGuessW * standingShare) + (course.plannedW[k] as number);
    let loadsW = idleW + slope * unitW + standingW;
    if (soc <= 0) loadsW = 0;
    const bankV = rig.cells * ((OCV[Math.round(soc * 100)] as number) + currentA * s.cellOhm);
    const wantedA = (availableW - loadsW) / bankV;
    // A nearly full bank takes only what lifts its voltage to the charger's limit.
    const takesA = soc > 0.9 ? Math.max(0, (3.5 - (OCV[Math.round(soc * 100)] as number)) / (1.5 * s.cellOhm)) : Number.POSITIVE_INFINITY;
    currentA = Math.min(wantedA, soc >= 1 ? 0 : takesA);
    soc = Math.min(1, Math.max(0, soc + (currentA * STEP_H) / rig.capacityAh));
    e.soc[(k + 1) * e.members + m] = soc;
    e.minisplitW[k] = (e.minisplitW[k] as number) + unitW;
    e.standingW[k] = (e.standingW[k] as number) + standingW;
    e.inverterW[k] = (e.inverterW[k] as number) + idleW + (slope - 1) * unitW;
    e.panelsW[k] = (e.panelsW[k] as number) + availableW;
    const afterSunrise = span.sunriseMs !== null && span.startMs + (k + 1) * BIN_MS > span.sunriseMs;
    aheadSteps = afterSunrise && availableW > 0 && availableW >= loadsW ? aheadSteps + 1 : 0;
    if (aheadSteps === 2 && (e.takeoverStep[m] as number) < 0) e.takeoverStep[m] = k - 1;
  }
}
