import { z } from 'zod';
import { Priority } from './alarm.ts';
import { ROUTE_KINDS } from './routes.ts';

export const NOTICE_KINDS = ['alarm', 'returned', 'test', 'check', 'briefing'] as const;

/** One message to somebody. Two with the same `eventId` are the same news: a device shows one. No position, no secret stands in it. */
export const Notice = z.strictObject({
  noticeId: z.uuid(),
  eventId: z.string().max(100).describe('alarm id and occurrence, or what else it is about; the collapse key on a device'),
  kind: z.enum(NOTICE_KINDS),
  alarmId: z.string().max(64).nullable(),
  occurrence: z.number().int().nullable(),
  priority: Priority,
  title: z.string().max(100),
  text: z.string().max(500),
  helps: z.array(z.string().max(200)).max(6),
  rigName: z.string().max(64),
  issuedMs: z.number().int(),
  issuedText: z.string().max(40).describe('the time it was issued, by the clock of the rig, such as 04:10'),
  expiresMs: z.number().int().describe('after this it is not sent any more'),
  canAcknowledge: z.boolean(),
});
export type Notice = z.infer<typeof Notice>;

export const OUTBOX_STATES = ['waiting', 'delivered', 'failed', 'expired', 'replaced'] as const;

/** A notice on its way by one route to one target (a device of the route, '' where the route is one). Kept on disk from before the first attempt. */
export const OutboxEntry = z.strictObject({
  id: z.string().max(200),
  route: z.string().max(32),
  target: z.string().max(64),
  targetName: z.string().max(64),
  notice: Notice,
  state: z.enum(OUTBOX_STATES),
  attempts: z.number().int().nonnegative(),
  /** Not before, wall clock. */
  nextMs: z.number().int(),
  changedMs: z.number().int(),
  reason: z.string().max(300).describe("why the last attempt failed, or what the other side said; '' before any"),
  receivedMs: z.number().int().nullable().describe('when the device itself said that it showed it'),
});
export type OutboxEntry = z.infer<typeof OutboxEntry>;

/** What is known of a route's reach. */
export const RouteView = z.strictObject({
  name: z.string(),
  kind: z.enum(ROUTE_KINDS),
  remote: z.boolean().describe('reaches beyond the rig'),
  targets: z.array(z.strictObject({ id: z.string(), name: z.string() })).describe('whom it reaches; devices for push'),
  state: z.enum(['works', 'fails', 'untried', 'no-target']),
  sinceMs: z.number().int().nullable().describe('since when it works or fails'),
  provenMs: z.number().int().nullable().describe('last delivery that the other side took, a test or a check included'),
  receivedMs: z.number().int().nullable().describe('last time that a device itself said it showed a notice'),
  reason: z.string().max(300),
});
export type RouteView = z.infer<typeof RouteView>;

export const ReachView = z.strictObject({
  routes: z.array(RouteView),
  unreachableSinceMs: z.number().int().nullable().describe('no remote route has worked since; null while one works, or none is set up'),
  noRoute: z.boolean().describe('no route at all is left: not even a screen that may sound'),
  heartbeat: z.strictObject({ okMs: z.number().int().nullable(), failingSinceMs: z.number().int().nullable(), reason: z.string().max(300) }).nullable(),
  tablets: z
    .strictObject({ sounding: z.number().int().nonnegative(), silent: z.number().int().nonnegative() })
    .describe('open screens by whether they may sound'),
});
export type ReachView = z.infer<typeof ReachView>;
