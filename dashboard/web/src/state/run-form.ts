import { MOST_LOAD_W, MOST_PEAK_W, MOST_RUN_MINUTES } from '../../../../shared/load-limits.ts';
import type { Preset } from '../format/presets.ts';
import type { RunQuestion } from '../format/run.ts';
import { clockTime, nextClockTime } from '../format/zone.ts';

/** What stands in the form, as typed. `time` is the rig's clock, '' for now. */
export interface RunForm {
  readonly watts: string;
  readonly minutes: string;
  readonly time: string;
  readonly peak: string;
}

/** What is wrong, by field, in words. */
export type RunFaults = Partial<Record<'watts' | 'minutes' | 'time' | 'peak', string>>;

const MOST = { watts: MOST_LOAD_W, minutes: MOST_RUN_MINUTES, peak: MOST_PEAK_W } as const;
const QUARTER_MS = 900_000;
const MINUTES_STEP = 5;

/** Reads the form: the question, or what keeps it from being one. Times are those of the rig's zone, the next that comes. */
export function readRun(form: RunForm, nowMs: number, zone: string, confidence: number): { question: RunQuestion | null; faults: RunFaults } {
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
  const startMs = form.time.trim() === '' ? nowMs : nextClockTime(form.time, nowMs, zone);
  if (startMs === null) faults.time = 'Enter when it starts, as hours and minutes.';
  if (startMs === null || Object.keys(faults).length > 0) return { question: null, faults };
  return { question: { kind: 'run', powerW, minutes, startMs: Math.ceil(startMs), peakW, confidence }, faults };
}

/** Of what is wrong, that which stands in a field: one that is still empty is not wrong before it is asked. */
export const typedFaults = (form: RunForm, faults: RunFaults): RunFaults =>
  Object.fromEntries((Object.keys(faults) as (keyof RunFaults)[]).filter((field) => form[field].trim() !== '').map((field) => [field, faults[field]]));

/** The form with a load of the person's own in it; how long stays as it is where the load does not say. */
export const withPreset = (form: RunForm, { powerW, minutes, peakW }: Preset): RunForm => ({
  ...form,
  watts: String(powerW),
  minutes: minutes === null ? form.minutes : String(minutes),
  peak: peakW === null ? '' : String(peakW),
});

/** The start a quarter of an hour on or back, on whole quarters; '' (now) where that would be past. */
export function steppedTime(time: string, direction: 1 | -1, nowMs: number, zone: string): string {
  const fromMs = (time === '' ? null : nextClockTime(time, nowMs, zone)) ?? nowMs;
  const quarter = direction > 0 ? Math.floor(fromMs / QUARTER_MS) + 1 : Math.ceil(fromMs / QUARTER_MS) - 1;
  return quarter * QUARTER_MS <= nowMs ? '' : clockTime(quarter * QUARTER_MS, zone);
}

/** The minutes five more or fewer, on whole fives, within what can be planned. */
export function steppedMinutes(minutes: string, direction: 1 | -1): string {
  const from = Number(minutes.replace(',', '.')) || 0;
  const steps = direction > 0 ? Math.floor(from / MINUTES_STEP) + 1 : Math.ceil(from / MINUTES_STEP) - 1;
  return String(Math.min(MOST_RUN_MINUTES, Math.max(MINUTES_STEP, steps * MINUTES_STEP)));
}
