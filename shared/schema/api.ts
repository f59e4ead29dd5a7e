import { z } from 'zod';
import { MOST_RUN_MINUTES } from '../load-limits.ts';
import { AlarmEntry } from './alarm-rule.ts';
import { DayRow, LedgerPlace, Stay, TrackRecord } from './ledger.ts';
import { Role } from './pairing.ts';
import { AnnouncedLoad } from './plan.ts';
import { NightRow } from './projection.ts';
import { REJECT_REASONS, REMARKS } from './reading.ts';
import { RigChange } from './rig-book.ts';
import { Briefings, CallOut } from './routes.ts';
import { BoardView } from './sensor-book.ts';
import { WatchOrder } from './watch-mode.ts';

const DAY_MS = 86_400_000;

const Range = z.object({ fromMs: z.coerce.number().int(), toMs: z.coerce.number().int() });
const withinDays = (days: number) => (q: z.infer<typeof Range>) => q.toMs > q.fromMs && q.toMs - q.fromMs <= days * DAY_MS;
const rangeFault = (days: number) => ({ path: ['toMs'], message: `later than fromMs, by at most ${days} days` });

/** GET /api/history?signal=&fromMs=&toMs=&buckets=  Answered with an ETag; a bucket without readings has count 0 and null values. */
export const HistoryQuery = z
  .object({ signal: z.string().min(1).max(96), ...Range.shape, buckets: z.coerce.number().int().min(1).max(2000).default(400) })
  .refine(withinDays(400), rangeFault(400));
export type HistoryQuery = z.infer<typeof HistoryQuery>;

export const History = z.strictObject({
  signal: z.string(),
  fromMs: z.number().int(),
  toMs: z.number().int(),
  bucketMs: z.number(),
  min: z.array(z.number().nullable()),
  mean: z.array(z.number().nullable()),
  max: z.array(z.number().nullable()),
  count: z.array(z.number().int()),
});
export type History = z.infer<typeof History>;

/** The query of GET /api/nights, /api/days and /api/look-back. */
export const RangeQuery = Range.refine(withinDays(400), rangeFault(400));
/** The query of GET /api/soc: a curve to look at, not an export; a month has 4,464 points. */
export const SocQuery = Range.refine(withinDays(31), rangeFault(31));

/** GET /api/nights?fromMs=&toMs=  Ledger rows of the nights that ended in the range, oldest first. */
export const Nights = z.array(NightRow);

/** GET /api/days?fromMs=&toMs=  Ledger rows of the calendar days that ended in the range, oldest first. */
export const Days = z.array(DayRow);

/** GET /api/look-back?fromMs=&toMs=  The nights of the range by stop, and how their projections did. */
export const LookBack = z.strictObject({ stays: z.array(Stay), track: TrackRecord });
export type LookBack = z.infer<typeof LookBack>;

/** GET /api/soc?fromMs=&toMs=  The estimated state of charge and bus powers in 10-minute means, for the curve up to now. */
export const SocHistory = z.strictObject({
  points: z.array(
    z.strictObject({
      tMs: z.number().int(),
      socPct: z.number().nullable(),
      panelsW: z.number().nullable(),
      minisplitW: z.number().nullable(),
      standingW: z.number().nullable(),
      inverterW: z.number().nullable().describe('what the inverter itself took'),
      surplusW: z.number().nullable(),
    }),
  ),
});
export type SocHistory = z.infer<typeof SocHistory>;

/** GET /api/sensors  Rejections per signal and the topics that no signal uses. */
export const SensorsReport = z.strictObject({
  signals: z.array(
    z.strictObject({
      name: z.string(),
      rejected: z.array(
        z.strictObject({
          reason: z.enum(REJECT_REASONS),
          count: z.number().int(),
          lastMs: z.number().int(),
          lastPayload: z.string().describe('printable, cut to 200 characters'),
        }),
      ),
      remarks: z.array(z.strictObject({ remark: z.enum(REMARKS), count: z.number().int(), lastMs: z.number().int() })),
      note: z.string().describe('what is suspected and what to do; empty when nothing'),
      skewMs: z.number().nullable().describe('device clock minus arrival, median; null without device times'),
    }),
  ),
  unmapped: z.array(
    z.strictObject({
      topic: z.string().describe('printable form of the topic'),
      count: z.number().int(),
      lastMs: z.number().int(),
      lastPayload: z.string(),
      retained: z.boolean(),
    }),
  ),
  unmappedDropped: z.number().int().describe('topics seen beyond the number that is remembered'),
  boards: z.array(BoardView).optional().describe('in the order of their names'),
});
export type SensorsReport = z.infer<typeof SensorsReport>;

/** What every command carries. */
const meant = { id: z.uuid(), expiresMs: z.number().int() };

/** A browser's subscription as its Push API gives it (W3C Push API; RFC 8291 keys, base64url). */
export const PushSubscription = z.strictObject({
  endpoint: z.url({ protocol: /^https$/ }).max(1000),
  keys: z.strictObject({ p256dh: z.string().regex(/^[A-Za-z0-9_-]{80,90}$/), auth: z.string().regex(/^[A-Za-z0-9_-]{20,26}$/) }),
});
export type PushSubscription = z.infer<typeof PushSubscription>;

/** POST /api/receipts  A device says that it has shown a notice; any paired device may. */
export const Receipt = z.strictObject({ noticeId: z.uuid(), subscription: z.string().max(1000).describe('endpoint of its subscription') });
export type Receipt = z.infer<typeof Receipt>;

/** GET /api/now  The rig's time, by which commands expire. */
export const Now = z.strictObject({ nowMs: z.number().int(), pace: z.number() });
export type Now = z.infer<typeof Now>;

/**
 * POST /api/commands  One command with its id and expiry; a repeated id is answered as before.
 * `expiresMs` is the rig's time, like `serverMs` (which a paced demo runs `rig.pace` times as fast as a watch).
 */
export const Command = z.discriminatedUnion('kind', [
  z.strictObject({ kind: z.literal('acknowledge'), ...meant, alarmId: z.string().max(64), occurrence: z.number().int() }),
  z.strictObject({
    kind: z.literal('plan-load'),
    ...AnnouncedLoad.omit({ endMs: true }).shape,
    expiresMs: z.number().int(),
    minutes: z.number().positive().max(MOST_RUN_MINUTES),
  }),
  z.strictObject({ kind: z.literal('drop-load'), ...meant, loadId: z.uuid() }),
  z.strictObject({ kind: z.literal('shelve'), ...meant, alarmId: z.string().max(64), minutes: z.int().min(1).max(1440) }),
  z.strictObject({ kind: z.literal('unshelve'), ...meant, alarmId: z.string().max(64) }),
  z.strictObject({ kind: z.literal('try-routes'), ...meant, route: z.string().max(32).nullable().describe('null: all of them') }),
  z.strictObject({ kind: z.literal('arm-watch'), ...meant, order: WatchOrder }),
  z.strictObject({ kind: z.literal('disarm-watch'), ...meant }),
  z.strictObject({ kind: z.literal('subscribe-push'), ...meant, name: z.string().trim().min(1).max(64), subscription: PushSubscription }),
  z.strictObject({ kind: z.literal('revoke-push'), ...meant, deviceId: z.uuid() }),
  z.strictObject({
    kind: z.literal('edit-alarms'),
    ...meant,
    hash: z.string().max(128),
    change: z.discriminatedUnion('what', [
      z.strictObject({ what: z.literal('rule'), entry: AlarmEntry }).describe('sets the entry of that id under `alarms`'),
      z.strictObject({ what: z.literal('drop-rule'), ruleId: z.string().max(64) }).describe('removes it: a built-in alarm is again as built in'),
      z.strictObject({ what: z.literal('call-out'), callOut: CallOut }),
      z.strictObject({ what: z.literal('briefings'), briefings: Briefings }),
    ]),
  }),
  z.strictObject({ kind: z.literal('edit-rig'), ...meant, hash: z.string().max(128), change: RigChange }),
  z
    .strictObject({ kind: z.literal('note-night'), ...meant, nightId: z.string().regex(/^\d{4}-\d{2}-\d{2}$/), note: z.string().trim().max(2000) })
    .describe("what a person writes down of a night; '' takes it away"),
  z.strictObject({ kind: z.literal('tell-time'), ...meant, wallMs: z.number().int() }).describe('what time it is, by the clock of the device'),
  z.strictObject({ kind: z.literal('name-place'), ...meant, place: LedgerPlace, name: z.string().trim().max(40) }).describe("'' takes the name away"),
]);
export type Command = z.infer<typeof Command>;

export const CommandResult = z.strictObject({ id: z.string(), done: z.boolean(), reason: z.string() });
export type CommandResult = z.infer<typeof CommandResult>;

/** POST /api/pair  Trades a short-lived code for a long-lived token, set as an HttpOnly cookie. */
export const PairRequest = z.strictObject({ code: z.string().min(4).max(32), deviceName: z.string().min(1).max(64) });
export const PairResult = z.strictObject({ role: Role, deviceId: z.string() });
export type PairResult = z.infer<typeof PairResult>;

/** Every error answer of the HTTP side. */
export const ErrorBody = z.strictObject({ code: z.string(), message: z.string(), issues: z.array(z.unknown()) });
export type ErrorBody = z.infer<typeof ErrorBody>;
