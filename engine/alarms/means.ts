import type { EpochMs } from '../../shared/units.ts';
import { lowPass, type Maybe, meanOf } from '../numeric/series.ts';

/** What alarms need beyond the newest values: means, and the last half hour of each temperature. Small, and part of the engine's state. */
export interface AlarmMeans {
  /** Power of the mini-split, W. */
  readonly minisplitW: Maybe;
  /** What the measured powers leave over, W. */
  readonly unaccountedW: Maybe;
  readonly temperatures: Readonly<Record<string, Course>>;
}

/** A temperature minute by minute, deg C, the oldest first; the last one at `tMs`. */
export interface Course {
  readonly tMs: EpochMs;
  readonly minutesC: readonly number[];
}

export const initialMeans: AlarmMeans = { minisplitW: null, unaccountedW: null, temperatures: {} };

const MINUTE_MS = 60_000;
/** A unit that cycles at its least power is on or off for some ten minutes, h; what is left over for moments is of signals that come at different times. */
const MEAN_H = 0.25;
const KEPT_MINUTES = 31;
/** A rise is looked for in so many minutes. */
const FAST_MINUTES = 10;
/** Ends of the half hour that are compared, minutes; and the least there must be for it. */
const END_MINUTES = 8;
const LEAST_MINUTES = 20;

/** What one step sees; null: not known now. */
export interface MeansWitness {
  readonly tMs: EpochMs;
  readonly dtH: number;
  readonly minisplitW: Maybe;
  readonly unaccountedW: Maybe;
  readonly temperatures: readonly string[];
  value(signal: string): Maybe;
}

/** One step. What is not known now begins anew when it is known again, so that no gap looks like a change. */
export function stepMeans(means: AlarmMeans, { tMs, dtH, minisplitW, unaccountedW, temperatures, value }: MeansWitness): AlarmMeans {
  const mean = (was: Maybe, now: Maybe): Maybe => (now === null ? null : lowPass(was ?? now, now, dtH, MEAN_H));
  return {
    minisplitW: mean(means.minisplitW, minisplitW),
    unaccountedW: mean(means.unaccountedW, unaccountedW),
    temperatures: stepCourses(means.temperatures, tMs, temperatures, value),
  };
}

/** The courses after a step; the same object while no minute has begun and nothing fell silent. */
function stepCourses(courses: AlarmMeans['temperatures'], tMs: EpochMs, signals: readonly string[], value: MeansWitness['value']): AlarmMeans['temperatures'] {
  let next: Record<string, Course> | null = null;
  for (const signal of signals) {
    const course = courses[signal];
    const nowC = value(signal);
    if (nowC === null ? course === undefined : course !== undefined && tMs - course.tMs < MINUTE_MS && tMs >= course.tMs) continue;
    next ??= { ...courses };
    if (nowC === null) delete next[signal];
    else next[signal] = course && tMs > course.tMs && tMs - course.tMs < 2 * MINUTE_MS ? appended(course, tMs, nowC) : { tMs, minutesC: [nowC] };
  }
  return next ?? courses;
}

const appended = ({ minutesC }: Course, tMs: EpochMs, nowC: number): Course => ({ tMs, minutesC: [...minutesC, nowC].slice(-KEPT_MINUTES) });

/** How far a temperature has risen within ten minutes, from its lowest in them, K; `fallK` likewise. Null while nothing is known. */
export function fastChange(course: Course | undefined, nowC: Maybe): { riseK: number; fallK: number } | null {
  if (!course || nowC === null) return null;
  const last = course.minutesC.slice(-FAST_MINUTES);
  return { riseK: Math.max(0, nowC - Math.min(...last)), fallK: Math.max(0, Math.max(...last) - nowC) };
}

/** How fast a temperature moves over the last half hour, K/h, from the means of its ends; null before there is enough of it. */
export function slowChange(course: Course | undefined): Maybe {
  const minutesC = course?.minutesC ?? [];
  if (minutesC.length < LEAST_MINUTES) return null;
  const from = meanOf(minutesC.slice(0, END_MINUTES)) as number;
  const to = meanOf(minutesC.slice(-END_MINUTES)) as number;
  return ((to - from) / (minutesC.length - END_MINUTES)) * 60;
}
