import { z } from 'zod';

/** Words of ISA-18.2 / IEC 62682. */
export const LIFECYCLES = ['normal', 'unacknowledged', 'acknowledged', 'returned'] as const;
export const SUPPRESSIONS = ['none', 'shelved', 'out-of-service'] as const;
export const PRIORITIES = ['low', 'medium', 'high', 'critical'] as const;

export const Alarm = z.strictObject({
  id: z.string(),
  condition: z.union([z.boolean(), z.literal('unknown')]),
  lifecycle: z.enum(LIFECYCLES),
  suppression: z.enum(SUPPRESSIONS),
  priority: z.enum(PRIORITIES),
  text: z.string().max(400),
  /** When the lifecycle last changed. */
  sinceMs: z.number().int(),
  /** Rises by one with every occurrence (raise, or getting worse). */
  occurrence: z.number().int().nonnegative(),
});
export type Alarm = z.infer<typeof Alarm>;

/** A line of the replay output and of the history, at every change. */
export const AlarmChange = z.strictObject({
  tMs: z.number().int(),
  id: z.string(),
  condition: Alarm.shape.condition,
  lifecycle: Alarm.shape.lifecycle,
  suppression: Alarm.shape.suppression,
  priority: Alarm.shape.priority,
  text: z.string(),
});
export type AlarmChange = z.infer<typeof AlarmChange>;
