import { z } from 'zod';
import { AlarmChange, Priority } from './alarm.ts';
import { AlarmEntry, Condition } from './alarm-rule.ts';
import { OUTBOX_STATES } from './notice.ts';
import { Briefings, CallOut, Heartbeat, Routes } from './routes.ts';

/** A rule for the screen that reads and changes it. */
export const RuleView = z.strictObject({
  id: z.string(),
  builtIn: z.boolean(),
  adjusted: z.boolean().describe('a built-in that the rig file changes'),
  title: z.string(),
  levels: z.array(z.strictObject({ priority: Priority, when: Condition, words: z.string().max(1000) })).describe('`words`: the condition in plain words'),
  onDelayS: z.number(),
  offDelayS: z.number(),
  message: z.string(),
  says: z.string().describe('the message with the names of its values in words'),
  routes: z.array(z.string()).nullable(),
  because: z.array(z.string()),
  unknown: z.enum(['raise', 'ignore']),
  outOfService: z.boolean(),
  notWatched: z.string(),
  entry: AlarmEntry.nullable().optional().describe('what the rig file holds of it, so that an edit sets nothing else; null: nothing'),
});
export type RuleView = z.infer<typeof RuleView>;

/** Something that a rule can watch. */
export const WatchableView = z.strictObject({
  name: z.string(),
  label: z.string(),
  unit: z.string().describe("symbol of the unit kept; 'chance' for a probability, 0 to 1; '' for a plain number"),
  kind: z.enum(['signal', 'derived', 'projected']),
  now: z.number().nullable(),
});

export type WatchableView = z.infer<typeof WatchableView>;

/** GET /api/alarm-book  All that is set up: rules, what can be watched, routes, who is called. */
export const AlarmBook = z.strictObject({
  hash: z.string().nullable().describe('of the rig file, to be given with an edit; null where it cannot be edited here'),
  whyFixed: z.string().describe("why it cannot be edited here; '' when it can"),
  rules: z.array(RuleView),
  watchables: z.array(WatchableView),
  routes: Routes,
  callOut: CallOut,
  briefings: Briefings,
  heartbeat: Heartbeat.omit({ url: true }).nullable(),
  pushKey: z.string().nullable().describe("the rig's public key for Web Push (RFC 8292), base64url; null where none can be sent"),
});
export type AlarmBook = z.infer<typeof AlarmBook>;

/** A line of the log beside the changes of alarms: what was sent, tested, armed, edited. */
export const LogLine = z.discriminatedUnion('kind', [
  z.strictObject({ kind: z.literal('change'), ...AlarmChange.shape }),
  z.strictObject({
    kind: z.literal('delivery'),
    tMs: z.number().int(),
    alarmId: z.string().nullable(),
    route: z.string(),
    targetName: z.string(),
    what: z.string().max(160).describe('title of the notice'),
    state: z.enum([...OUTBOX_STATES, 'received']),
    attempts: z.number().int(),
    reason: z.string().max(300),
  }),
  z.strictObject({ kind: z.literal('deed'), tMs: z.number().int(), by: z.string().max(64), what: z.string().max(300) }),
]);
export type LogLine = z.infer<typeof LogLine>;

/** GET /api/alarm-log?fromMs=&toMs=&text=&alarm=  Newest first, at most `limit`. With &format=csv the same as a file. */
export const LogQuery = z
  .object({
    fromMs: z.coerce.number().int(),
    toMs: z.coerce.number().int(),
    text: z.string().max(80).default(''),
    alarm: z.string().max(64).default(''),
    limit: z.coerce.number().int().min(1).max(20_000).default(300),
    format: z.enum(['json', 'csv']).default('json'),
  })
  .refine((q) => q.toMs > q.fromMs, { path: ['toMs'], message: 'later than fromMs' });
export type LogQuery = z.infer<typeof LogQuery>;
export const AlarmLog = z.strictObject({ lines: z.array(LogLine), more: z.boolean().describe('there are older lines in the range') });
export type AlarmLog = z.infer<typeof AlarmLog>;

/** GET /api/alarm-figures?fromMs=&toMs=  The standard's own figures of how well the alarms do. */
export const AlarmFigures = z.strictObject({
  days: z.number(),
  alarmsPerDay: z.number(),
  mostInAnHour: z.number().int(),
  chattering: z.array(z.strictObject({ id: z.string(), raisesInAnHour: z.number().int() })),
  stale: z.array(z.strictObject({ id: z.string(), sinceMs: z.number().int() })).describe('stand for more than a day'),
  acknowledgeMedianS: z.number().nullable(),
  acknowledgeP90S: z.number().nullable(),
  neverAcknowledged: z.number().int(),
  byPriority: z.array(z.strictObject({ priority: Priority, share: z.number().min(0).max(1) })),
  busiest: z.array(z.strictObject({ id: z.string(), raises: z.number().int() })).describe('at most ten, the busiest first'),
});
export type AlarmFigures = z.infer<typeof AlarmFigures>;
