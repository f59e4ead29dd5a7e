import { z } from 'zod';
import { REJECT_REASONS } from './reading.ts';
import { SIGNAL_PARTS } from './rig-file.ts';

/** GET /api/topic?topic=  The last message of one topic, taken apart; NOT_FOUND when none was heard since the start. */
export const TopicQuery = z.object({ topic: z.string().min(1).max(512) });
export type TopicQuery = z.infer<typeof TopicQuery>;

/** A place in a payload where a value may be picked. */
const TopicField = z.strictObject({
  format: z.enum(['number', 'json', 'senml']),
  pointer: z.string().optional().describe('json: RFC 6901'),
  name: z.string().optional().describe('senml: the resolved record name'),
  text: z.string().max(80).describe('the value as it stands there, printable'),
  number: z.number().nullable().describe('null: no number'),
  unit: z.string().nullable().describe('senml: the unit of the record, where it is one that can be used'),
  usedBy: z.string().nullable().describe('signal that reads this field already'),
  likely: z
    .array(z.strictObject({ signal: z.string(), unit: z.string(), why: z.string().max(120) }))
    .describe('what it may be, by its name and size; the likeliest first, at most five; a guess to be confirmed'),
});

export const TopicView = z.strictObject({
  topic: z.string(),
  count: z.number().int(),
  lastMs: z.number().int(),
  retained: z.boolean(),
  payload: z.string().describe('printable, cut to 4,000 characters'),
  isCut: z.boolean().describe('longer than what is remembered, so that fields may be missing'),
  fields: z.array(TopicField).max(200),
});
export type TopicView = z.infer<typeof TopicView>;

/** A mapping as a person makes it on the screen: as it would stand in the rig file. */
export const Mapping = z.strictObject({ signal: z.string().max(96), spec: SIGNAL_PARTS.signal });
export type Mapping = z.infer<typeof Mapping>;

/** POST /api/try-mapping  What a mapping gives for the last message of its topic; changes nothing. A spec that does not fit is answered with its mistakes, not refused. */
export const MappingQuestion = z.strictObject({ signal: z.string().max(96), spec: z.unknown() });
export type MappingQuestion = z.infer<typeof MappingQuestion>;

export const MappingTrial = z.strictObject({
  value: z.number().nullable().describe('in the unit kept'),
  unit: z.string().describe("symbol of the unit kept; '' when the signal is not known"),
  quantity: z.string(),
  tMs: z.number().int().nullable().describe('when that message came'),
  rejected: z.enum(REJECT_REASONS).nullable(),
  remarks: z.array(z.string()),
  doubt: z.string().max(200).describe("why the value is hard to believe, such as another unit that would fit better; '' when it is not"),
  mistakes: z.array(z.strictObject({ path: z.string(), got: z.string(), expected: z.string(), hint: z.string() })),
});
export type MappingTrial = z.infer<typeof MappingTrial>;

/** GET /api/zero?signal=&seconds=  What a signal that should read nothing has read over the last seconds, for setting its zero. */
export const ZeroQuery = z.object({ signal: z.string().min(1).max(96), seconds: z.coerce.number().min(20).max(600).default(60) });
export type ZeroQuery = z.infer<typeof ZeroQuery>;

export const ZeroView = z.strictObject({
  signal: z.string(),
  unit: z.string(),
  readings: z.number().int().nonnegative(),
  mean: z.number().nullable().describe('in the unit kept, with the offset in force'),
  spread: z.number().nullable().describe('standard deviation, in the unit kept'),
  isSteady: z.boolean().describe('enough readings, and their spread is small enough to be set as zero'),
  offset: z.number().describe('in force, as it stands in the rig file: in the unit and sign of the board'),
  nextOffset: z.number().nullable().describe('with which the mean would be nothing; null while it is not steady or cannot be set'),
  refused: z.string().max(300).describe("why it cannot be set here now, in words; '' when it can"),
});
export type ZeroView = z.infer<typeof ZeroView>;

/** A board: topics that share all but their last level. In GET /api/sensors. */
export const BoardView = z.strictObject({
  name: z.string().describe('printable form of the shared part of its topics'),
  signals: z.array(z.string()),
  lastMs: z.number().int().nullable().describe('last message on any of its topics that a signal reads'),
  presence: z.enum(['here', 'silent', 'gone', 'never']).describe('by the age of its data first, by its last will second; gone: silent, and its will says so'),
  will: z
    .strictObject({ topic: z.string(), says: z.enum(['online', 'offline']), tMs: z.number().int() })
    .nullable()
    .describe('what a topic of it says of its presence'),
});
export type BoardView = z.infer<typeof BoardView>;
