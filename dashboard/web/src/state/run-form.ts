import { MOST_LOAD_W, MOST_PEAK_W, MOST_RUN_MINUTES } from '../../../../shared/load-limits.ts';
import type { RunQuestion } from '../format/run.ts';
import { ADVISED_PROBABILITY } from '../format/verdict.ts';
import { nextClockTime } from '../format/zone.ts';

/** What stands in the form, as typed. */
export interface RunForm {
  readonly watts: string;
  readonly minutes: string;
  readonly start: 'now' | 'at';
  readonly time: string;
  readonly peak: string;
}

/** What is wrong, by field, in words. */
export type RunFaults = Partial<Record<'watts' | 'minutes' | 'time' | 'peak', string>>;

const MOST = { watts: MOST_LOAD_W, minutes: MOST_RUN_MINUTES, peak: MOST_PEAK_W } as const;

/** Reads the form: the question, or what keeps it from being one. Times are those of the rig's zone, the next that comes. */
export function readRun(form: RunForm, nowMs: number, zone: string): { question: RunQuestion | null; faults: RunFaults } {
  const faults: RunFaults = {};
  const read = (field: keyof typeof MOST, what: string): number => {
    const value = Number(form[field].trim().replace(',', '.') || Number.NaN);
    if (!Number.isFinite(value)) faults[field] = `Enter ${what} as a number.`;
    else if (value <= 0 || value > MOST[field]) faults[field] = `Enter ${what} above 0 and up to ${MOST[field]}.`;
    return value;
  };
  const powerW = read('watts', 'the watts');
  const minutes = read('minutes', 'the minutes');
  const peakW = form.peak.trim() === '' ? null : read('peak', 'the starting peak');
  const startMs = form.start === 'now' ? nowMs : nextClockTime(form.time, nowMs, zone);
  if (startMs === null) faults.time = 'Enter when it starts, as hours and minutes.';
  if (startMs === null || Object.keys(faults).length > 0) return { question: null, faults };
  return { question: { kind: 'run', powerW, minutes, startMs: Math.ceil(startMs), peakW, confidence: ADVISED_PROBABILITY }, faults };
}
