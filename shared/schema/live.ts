import { z } from 'zod';
import { LIVE_VERSION } from '../live-version.ts';
import { Alarm } from './alarm.ts';
import { CopyView } from './copy.ts';
import { BankView, Flows } from './flows.ts';
import { ReachView } from './notice.ts';
import { AnnouncedLoad } from './plan.ts';
import { Projection } from './projection.ts';
import { Quality } from './reading.ts';
import { WatchView } from './watch-mode.ts';

export const Freshness = z.enum(['fresh', 'silent', 'last-known', 'never']).describe('last-known: only a retained message so far');

/** What stands still about a signal while the process runs. `index` is its name on the wire. */
export const SignalInfo = z.strictObject({
  index: z.number().int().nonnegative(),
  name: z.string(),
  label: z.string(),
  unit: z.string(),
  quantity: z.string(),
  everyS: z.number(),
  topics: z.array(z.string()),
});
export type SignalInfo = z.infer<typeof SignalInfo>;

export const SignalState = z.strictObject({
  index: z.number().int().nonnegative(),
  value: z.number().nullable(),
  tMs: z.number().int().nullable(),
  quality: Quality,
  reason: z.string().optional(),
  freshness: Freshness,
  received: z.number().int().nonnegative().describe('readings since start'),
  rejected: z.number().int().nonnegative(),
});
export type SignalState = z.infer<typeof SignalState>;

export const SunView = z.strictObject({
  known: z.boolean(),
  isNight: z.boolean(),
  polar: z.enum(['none', 'day', 'night']),
  /** The events around the shown noon-to-noon window, and the next ones. */
  sunsetMs: z.number().int().nullable(),
  sunriseMs: z.number().int().nullable(),
});
export type SunView = z.infer<typeof SunView>;

/** Readings that wait for somebody to tell the box what time it is. */
export const HeldView = z.strictObject({ readings: z.number().int(), isFull: z.boolean().describe('no more are held; newer ones lie at a guessed time') });
export type HeldView = z.infer<typeof HeldView>;

/** Something that cannot be kept now. */
const NotKept = z.strictObject({
  what: z.enum(['readings', 'documents']),
  sinceMs: z.number().int(),
  why: z.string().max(300),
  waiting: z.number().int().describe('held in memory until they can be kept'),
  lost: z.number().int().describe('the oldest, that were too many to hold'),
});
export type NotKept = z.infer<typeof NotKept>;

export const HealthView = z.strictObject({
  broker: z.enum(['connected', 'connecting', 'lost']),
  brokerSinceMs: z.number().int(),
  brokerWhy: z.string().max(300).optional().describe("why it is not connected, as the broker or the network says; '' when it is"),
  store: z.enum(['ok', 'failing']),
  notKept: z.array(NotKept).optional().describe('what of the store fails; left out or empty when nothing does'),
  storeNote: z.string().max(300).optional().describe("what a person should know of how the store was opened; '' when there is nothing"),
  copy: CopyView.nullable().optional().describe('the copy on a server; null: none is asked for'),
  messages: z.number().int(),
  readings: z.number().int(),
  rejected: z.number().int(),
  lastMessageMs: z.number().int().nullable(),
  clockDoubt: z.string().nullable().optional().describe('why the clock of the box is not to be trusted; null when it is'),
  held: HeldView.nullable().optional().describe('what waits for the time; null when nothing does'),
});
export type HealthView = z.infer<typeof HealthView>;

export const RigView = z.strictObject({
  id: z.string(),
  name: z.string(),
  units: z.enum(['metric', 'us']),
  timeZone: z.string(),
  demo: z.boolean(),
  recorded: z.boolean().optional().describe('a recording is played instead of live messages'),
  pace: z.number(),
  placeKnown: z.boolean(),
  floorPct: z.number(),
  confidencePct: z.number().optional().describe('how sure the owner wants to be that the floor holds'),
  settingUp: z.boolean().optional().describe('the rig is still being set up'),
  hasMinisplit: z.boolean(),
  hasInverter: z.boolean(),
  rigFileFault: z.string().nullable().describe('why the last edit of the rig file is not in force; null when it is'),
});
export type RigView = z.infer<typeof RigView>;

/** Sent once on connect, and again whenever a client asks by reconnecting. */
export const LiveSnapshot = z.strictObject({
  v: z.literal(LIVE_VERSION),
  serverMs: z.number().int().describe("the rig's time; ages are counted against it"),
  rig: RigView,
  signals: z.array(SignalInfo),
  states: z.array(SignalState),
  flows: Flows.nullable(),
  bank: BankView.nullable(),
  projection: Projection.nullable(),
  alarms: z.array(Alarm),
  sun: SunView,
  health: HealthView,
  plan: z.array(AnnouncedLoad).optional().describe('loads that are announced and not over, the first to start first; left out where none can be'),
  reach: ReachView.optional().describe('whether alarms reach anybody; left out where nothing is sent, as for a recording'),
  watch: WatchView.optional().describe('the watch over somebody inside; left out where there is none, as for a recording'),
});
export type LiveSnapshot = z.infer<typeof LiveSnapshot>;

/** What changed since the last event; at most 5 a second to a client. Left-out parts have not changed; null: no longer known. */
export const LiveChange = z.strictObject({
  v: z.literal(LIVE_VERSION),
  serverMs: z.number().int(),
  rig: RigView.optional(),
  states: z.array(SignalState).optional(),
  flows: Flows.nullable().optional(),
  bank: BankView.nullable().optional(),
  projection: Projection.nullable().optional(),
  alarms: z.array(Alarm).optional(),
  sun: SunView.optional(),
  health: HealthView.optional(),
  plan: z.array(AnnouncedLoad).optional(),
  reach: ReachView.optional(),
  watch: WatchView.optional(),
});
export type LiveChange = z.infer<typeof LiveChange>;
