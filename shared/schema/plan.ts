import { z } from 'zod';
import { MOST_LOAD_W } from '../load-limits.ts';

/** What may be announced at a time, and how far ahead of its start, ms. */
export const MOST_PLANNED = 20;
export const PLAN_AHEAD_MS = 7 * 86_400_000;

/** A load that the person has announced. `id` is that of the command that did. */
export const AnnouncedLoad = z.strictObject({
  id: z.uuid(),
  name: z.string().trim().min(1).max(40),
  powerW: z.number().positive().max(MOST_LOAD_W).describe('as drawn by the load, behind the inverter where there is one'),
  startMs: z.number().int(),
  endMs: z.number().int(),
});
export type AnnouncedLoad = z.infer<typeof AnnouncedLoad>;
