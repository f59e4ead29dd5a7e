import { z } from 'zod';

/** Words of ISA-18.2 / IEC 62682. */
export const LIFECYCLES = ['normal', 'unacknowledged', 'acknowledged', 'returned'] as const;
/** `by-design`: held back by the rules, since the alarm of its cause stands. */
export const SUPPRESSIONS = ['none', 'shelved', 'by-design', 'out-of-service'] as const;
export const PRIORITIES = ['low', 'medium', 'high', 'critical'] as const;
export const Priority = z.enum(PRIORITIES);
export type Priority = z.infer<typeof Priority>;

export const Alarm = z.strictObject({
  id: z.string().max(64),
  title: z.string().max(80).describe('what it watches, in a few words'),
  condition: z.union([z.boolean(), z.literal('unknown')]),
  lifecycle: z.enum(LIFECYCLES),
  suppression: z.enum(SUPPRESSIONS),
  priority: Priority,
  text: z.string().max(400),
  helps: z.array(z.string().max(200)).max(6).describe('what would help, each with its effect; empty when nothing is known to'),
  /** When the lifecycle last changed. */
  sinceMs: z.number().int(),
  /** Rises by one with every occurrence (raise, or getting worse). */
  occurrence: z.number().int().nonnegative(),
  raisesLastHour: z.number().int().nonnegative(),
  chattering: z.boolean().describe('raised so often within an hour that it flaps'),
  shelvedUntilMs: z.number().int().nullable(),
  heldBackBy: z.string().nullable().describe('id of the alarm whose cause this one shares, while suppression is by-design'),
  notWatched: z.string().max(200).describe("why it cannot be watched on this rig, such as a sensor that is not mapped; '' when it is watched"),
  acknowledgedBy: z.string().max(64).nullable(),
  sounds: z.boolean().optional().describe('whether open screens sound for it, as who is called says; left out where nobody is told: by its priority'),
});
export type Alarm = z.infer<typeof Alarm>;

/** What happened to an alarm, for its log. */
export const ALARM_DEEDS = [
  'raised',
  'worse',
  'eased',
  'out-of-sight',
  'returned',
  'acknowledged',
  'shelved',
  'unshelved',
  'held-back',
  'let-go',
  'out-of-service',
  'in-service',
] as const;

/** A change of an alarm's state: a line of the log, and (its first eight) of the replay output. */
export const AlarmChange = z.strictObject({
  tMs: z.number().int(),
  id: z.string(),
  condition: Alarm.shape.condition,
  lifecycle: Alarm.shape.lifecycle,
  suppression: Alarm.shape.suppression,
  priority: Alarm.shape.priority,
  text: z.string(),
  occurrence: z.number().int().nonnegative(),
  deed: z.enum(ALARM_DEEDS),
  by: z.string().max(64).describe("name of the device whose person did it; '' for the rules themselves"),
});
export type AlarmChange = z.infer<typeof AlarmChange>;
