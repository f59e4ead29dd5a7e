import { z } from 'zod';
import type { DocumentStore } from '../../shared/ports.ts';
import type { EpochMs } from '../../shared/units.ts';
import { logEntry } from './alarm-log.ts';

const KIND = 'clock-step';

/** How a start of the machine came to its time. */
export const ClockStep = z.object({
  bootId: z.string(),
  /** When it was known, by the time known then. */
  atMs: z.number().int(),
  /** By how much the time shown before was wrong, ms; positive: it was behind. */
  stepMs: z.number().int(),
  /** Epoch ms at which the machine's monotonic scale stood at 0. */
  zeroMs: z.number().int(),
  source: z.string(),
  /** Nobody ever told the time: where the readings lie is a guess. */
  guessed: z.boolean(),
});
export type ClockStep = z.infer<typeof ClockStep>;

/** The step recorded for a start of the machine; null while there is none. */
export async function stepOf(store: Pick<DocumentStore, 'get'>, bootId: string): Promise<ClockStep | null> {
  const body = await store.get(KIND, bootId);
  return body === null ? null : ClockStep.parse(JSON.parse(body));
}

/** Records a step once and for all, and writes it into the log of what was done. */
export async function keepStep(store: Pick<DocumentStore, 'put'>, step: ClockStep): Promise<void> {
  const { bootId, atMs } = step;
  await store.put([
    { kind: KIND, id: bootId, tMs: atMs, body: JSON.stringify(step) },
    logEntry({ kind: 'deed', tMs: atMs, by: 'the box', what: stepWords(step) }),
  ]);
}

/** The entry of the log for a clock that was set while its time was known. */
export const setEntry = (atMs: EpochMs, stepMs: number) => logEntry({ kind: 'deed', tMs: atMs, by: 'the box', what: `the clock was set ${movedBy(stepMs)}` });

export function stepWords({ stepMs, source, guessed }: ClockStep): string {
  if (guessed) return 'put readings of an earlier start, of which nobody told the time, where they most likely belong; they are marked as doubtful';
  return `learned the time from ${source}: readings since the start were moved ${movedBy(stepMs)}`;
}

const UNITS = [
  ['day', 86_400_000],
  ['h', 3_600_000],
  ['min', 60_000],
  ['s', 1000],
] as const;

/** A way of the clock in words of at most two units, such as "forward by 3 h 12 min". */
function movedBy(stepMs: number): string {
  let restMs = Math.round(Math.abs(stepMs) / 1000) * 1000;
  const parts: string[] = [];
  for (const [unit, unitMs] of UNITS) {
    const count = Math.floor(restMs / unitMs);
    restMs -= count * unitMs;
    if (count > 0 && parts.length < 2) parts.push(`${count} ${unit}${unit === 'day' && count > 1 ? 's' : ''}`);
  }
  return `${stepMs < 0 ? 'back' : 'forward'} by ${parts.join(' ') || '0 s'}`;
}
