import { z } from 'zod';

/** Percent 0 to 100. */
const pct = z.number().min(0).max(100);

/** A future state of charge with its quantiles; `tMs` is the moment it is for (for the low point: the median time). */
export const SocQuantiles = z.strictObject({
  tMs: z.number().int(),
  p5Pct: pct,
  p10Pct: pct,
  p25Pct: pct,
  p50Pct: pct,
  p75Pct: pct,
  p90Pct: pct,
  p95Pct: pct,
});
export type SocQuantiles = z.infer<typeof SocQuantiles>;

const probability = z.number().min(0).max(1);

/** What a change does to the night it is about. */
export const Effect = z.strictObject({
  lowPoint: SocQuantiles,
  gainPct: z.number().describe('median of the low point less that without the change, points of state of charge'),
  holdsProbability: probability,
});
export type Effect = z.infer<typeof Effect>;

export const HELPS = ['setpoint', 'skip-load', 'off-hours'] as const;
/** Something that a person could do against a low point, with what comes of it. */
export const Help = z.strictObject({
  kind: z.enum(HELPS),
  setpointC: z.number().nullable(),
  load: z.string().nullable(),
  fromMs: z.number().int().nullable(),
  toMs: z.number().int().nullable(),
  cabinPeakC: z.number().nullable().describe('warmest (heating: coldest) the cabin is expected to get by it; null: not known'),
  effect: Effect,
});
export type Help = z.infer<typeof Help>;
