import type { EpochMs } from '../../shared/units.ts';
import { DAY_MS } from '../history.ts';
import type { Maybe } from '../numeric/series.ts';
import { BIN_MS } from '../types.ts';

/** A setpoint that moves by more than this was moved by the person, K. */
const MOVED_K = 0.3;
/** Days looked back, and how many days halve a day's weight. */
const DAYS = 14;
const HALF_LIFE_DAYS = 7;
/** A day with more than this share of the stretch unseen says nothing. */
const MISSING_SHARE = 0.25;

/** A past setpoint in ten-minute steps from `startMs`, deg C; null where it is not known. */
export interface Settings {
  readonly startMs: EpochMs;
  readonly setpointsC: readonly Maybe[];
}

/** The stretch to come, in equal steps. */
interface Stretch {
  readonly startMs: EpochMs;
  readonly stepMs: number;
  readonly steps: number;
}

/**
 * Where the thermostat may be set in the hours to come if nobody is asked: as in the same hours of past days, each with its weight. What is set now
 * stays until that day's person first touched it; from then on it is what that day's person set.
 * @returns null where no past day changed anything, which is most rigs: the setting of now stays
 */
export function settingHabits(past: Settings, nowC: number, { startMs, stepMs, steps }: Stretch): { traces: Float64Array[]; weights: number[] } | null {
  const traces: Float64Array[] = [];
  const weights: number[] = [];
  let changed = false;
  for (let d = 1; d <= DAYS; d++) {
    const trace = new Float64Array(steps);
    let missing = 0;
    let before: Maybe = null;
    let setC = nowC;
    for (let k = 0; k < steps; k++) {
      const c = past.setpointsC[Math.floor((startMs + k * stepMs - d * DAY_MS - past.startMs) / BIN_MS)] ?? null;
      if (c === null) missing++;
      else {
        // Small steps add up to no change as long as they stay near the setting before them.
        if (before !== null && Math.abs(c - before) > MOVED_K) setC = c;
        if (before === null || Math.abs(c - before) > MOVED_K) before = c;
      }
      trace[k] = setC;
    }
    if (missing > MISSING_SHARE * steps) continue;
    changed ||= trace.some((c) => c !== nowC);
    traces.push(trace);
    weights.push(0.5 ** (d / HALF_LIFE_DAYS));
  }
  return changed ? { traces, weights } : null;
}
