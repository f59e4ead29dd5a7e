import { believedCabin, type CabinFit, type CabinState, powerToReachW, stepCabin } from '../cabin/two-state.ts';
import { clamp } from '../numeric/series.ts';
import type { Setup } from '../projection/ensemble.ts';
import type { Case } from './case.ts';
import { type AdvisedUnit, unitOf } from './case.ts';

/** How a cabin leaves its usual course. */
export interface Deviation {
  /** The unit's power over the usual, by step, W. */
  readonly powerW: Float64Array;
  /** The air's temperature over the usual at the end of each step, K. */
  readonly airC: Float64Array;
}

export interface DeviationInput {
  readonly fit: CabinFit;
  readonly heats: boolean;
  readonly steps: number;
  readonly dtH: number;
  /** The setpoint over the usual one, K. */
  readonly deltaC: (step: number) => number;
  /** What the unit draws on the usual course, W. */
  readonly usualW: ArrayLike<number>;
  /** The most that it may draw, W; 0: off. */
  readonly mostW: (step: number) => number;
}

/**
 * The cabin is linear, so its distance from the usual course obeys the same equations with no weather at all. The unit brings the air to the
 * new setpoint as fast as its power allows, which may be neither under 0 nor over its most.
 */
export function deviate(i: DeviationInput): Deviation {
  const fit: CabinFit = { ...i.fit, innerW: 0, sunGain: 0 };
  const sign = i.heats ? -1 : 1;
  const powerW = new Float64Array(i.steps);
  const airC = new Float64Array(i.steps);
  let s: CabinState = { airC: 0, envelopeC: 0 };
  const still = { outsideC: 0, sunW: 0 };
  for (let k = 0; k < i.steps; k++) {
    const usual = i.usualW[k] as number;
    const wanted = sign * powerToReachW(fit, s, still, i.deltaC(k), i.dtH);
    const w = clamp(wanted, -usual, Math.max(-usual, i.mostW(k) - usual));
    s = stepCabin(fit, s, { ...still, unitW: sign * w }, i.dtH);
    powerW[k] = w;
    airC[k] = s.airC;
  }
  return { powerW, airC };
}

/** The cabin as learned; before it is, as believed of a unit and panels of this size. */
export function cabinOf({ setup: { snapshot } }: Case, unit: AdvisedUnit): CabinFit {
  const ratedW = snapshot.rig.panels.reduce((sum, p) => sum + p.ratedW, 0);
  return snapshot.learned?.cabin ?? believedCabin(unit.maxW, ratedW);
}

/** Far more than any unit draws, so that no member runs. */
const OFF = 10;

/**
 * What the mini-split draws over its steady course when the setpoint changes on the way, or when it is off for some steps: the heat of air and
 * envelope that has to be taken out first, or that is still stored. Null where there is no unit to speak of.
 * @param usual  the case at the setpoint in force throughout
 */
export function shiftOf(usual: Case, setpointsC: ArrayLike<number> | null, isOff: (step: number) => boolean = () => false): Float64Array | null {
  const unit = unitOf(usual.setup.snapshot);
  if (!unit) return null;
  const { span } = usual.setup;
  const fit = cabinOf(usual, unit);
  const usualW = usual.ensemble.minisplitW;
  const deltaC = (k: number): number => (setpointsC === null ? 0 : (setpointsC[k] as number) - unit.setpointC);
  const mostW = (k: number): number => (isOff(k) ? 0 : unit.maxW);
  const { powerW } = deviate({ fit, heats: unit.heats, steps: span.steps, dtH: span.stepMs / 3_600_000, deltaC, usualW, mostW });
  return powerW.map((w, k) => {
    if (isOff(k)) return -OFF * unit.maxW;
    const base = usualW[k] as number;
    return w - clamp(-unit.sparing * fit.lossWK * deltaC(k), -base, unit.maxW - base);
  });
}

/** The change to other setpoints by step, with what comes of the change itself. */
export function atSetpoints(usual: Case, setpointsC: Float64Array): Partial<Setup> {
  const shiftW = shiftOf(usual, setpointsC);
  return { setpointsC, settings: null, ...(shiftW && { shiftW }) };
}

/** The change to another setpoint from now on. */
export const atSetpoint = (usual: Case, setpointC: number): Partial<Setup> => atSetpoints(usual, new Float64Array(usual.setup.span.steps).fill(setpointC));
