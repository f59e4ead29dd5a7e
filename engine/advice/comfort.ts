import { waterGm3 } from '../cabin/humid-air.ts';
import { type CabinFit, holdCabin, restingEnvelopeC } from '../cabin/two-state.ts';
import { type Maybe, meanOf } from '../numeric/series.ts';
import type { Course, Span } from '../projection/inputs.ts';
import type { Snapshot } from '../projection/snapshot.ts';

/**
 * How the water in the cabin's air follows its temperature from one setpoint to another, share per K. At the same water it would be 0, at the
 * same relative humidity some 0.06; a colder coil dries more, but a slower one less.
 */
const WATER_PER_K = 0.03;

/** What the cabin is to be through the night: means from sunset to sunrise; null where it is not measured. */
export interface Comfort {
  readonly cabinC: Maybe;
  readonly cabinRhPct: Maybe;
}

export interface ComfortInput {
  readonly snapshot: Snapshot;
  readonly span: Span;
  readonly course: Course;
  /** What the panels could give, by step, W. */
  readonly panelsW: Float64Array;
}

/** Expected air temperature by step with the thermostat at given setpoints, deg C; null where the cabin is not measured or not learned. */
export function cabinPath(i: ComfortInput, setpointAt: (step: number) => number, mostShare: (step: number) => number = () => 1): Float64Array | null {
  const { snapshot: s, span, course } = i;
  const fit: CabinFit | null = s.learned?.cabin ?? null;
  const unit = s.rig.minisplit;
  if (!fit || !unit || s.cabinC === null || !course.hasWeather || span.steps === 0) return null;
  const lagC = s.outsideLagC ?? (course.outsideC[0] as number);
  const start = { airC: s.cabinC, envelopeC: restingEnvelopeC(fit, s.cabinC, lagC, i.panelsW[0] as number) };
  const maxW = s.modeIndex === 0 ? 0 : unit.maxW;
  return holdCabin({
    fit,
    start,
    outsideC: course.outsideC,
    sunW: i.panelsW,
    setpointC: setpointAt,
    mostW: (k) => maxW * mostShare(k),
    heats: s.learned?.minisplit?.heats ?? false,
    steps: span.steps,
    dtH: span.stepMs / 3_600_000,
  }).airC;
}

/** The cabin's course at the setpoint in force, which what other setpoints bring is told from; null where it is not known. */
export function usualPathOf(i: ComfortInput): Float64Array | null {
  const nowC = i.snapshot.setpointC;
  return nowC === null ? null : cabinPath(i, () => nowC);
}

/** Comfort of the night at one setpoint throughout. @param usual  of all setpoints of a ladder, worked out once */
export function nightComfort(i: ComfortInput, setpointC: number, usual: Float64Array | null = usualPathOf(i)): Comfort {
  const air = cabinPath(i, () => setpointC);
  if (!air) return { cabinC: null, cabinRhPct: null };
  const { span, course } = i;
  const temperatures: number[] = [];
  const humidities: Maybe[] = [];
  for (let k = 0; k < span.steps; k++) {
    const tMs = span.startMs + k * span.stepMs;
    if (tMs < (span.sunsetMs ?? span.startMs) || tMs >= (span.sunriseMs ?? span.endMs)) continue;
    const airC = air[k] as number;
    const water = course.waterGm3[k] as number;
    temperatures.push(airC);
    humidities.push(water > 0 ? Math.min(100, (100 * water * Math.exp(WATER_PER_K * (airC - ((usual ?? air)[k] as number)))) / waterGm3(airC, 100)) : null);
  }
  const round = (value: Maybe, digits: number): Maybe => (value === null ? null : Math.round(value * 10 ** digits) / 10 ** digits);
  return { cabinC: round(meanOf(temperatures), 1), cabinRhPct: round(meanOf(humidities), 0) };
}
