import { z } from 'zod';

/** Why a reading is less than `ok`. */
export const SUSPECT_REASONS = ['power-on-value', 'saturated', 'flat', 'unit', 'sign', 'partial', 'chip-default', 'jump'] as const;

/** Why a payload gave no reading. Counted per signal and reason, shown on the Sensors screen. */
export const REJECT_REASONS = [
  'empty',
  'not-a-number',
  'not-finite',
  'unit-mismatch',
  'too-large',
  'too-deep',
  'not-utf8',
  'bad-json',
  'no-such-field',
  'bad-senml',
  'sentinel',
  'out-of-range',
  'sibling-bad',
  'duplicate',
  'not-a-mode',
  'bad-forecast',
] as const;
export type RejectReason = (typeof REJECT_REASONS)[number];

/** Remarks on a payload that was taken all the same, counted like rejections. */
export const REMARKS = ['trimmed', 'time-implausible', 'time-without-zone', 'retained', 'duplicate-key', 'late', 'unit-suggested'] as const;
export type Remark = (typeof REMARKS)[number];

export const Quality = z.enum(['ok', 'suspect', 'bad']).describe('ok; suspect: shown, kept out of learning; bad: shown as a fault');
export type Quality = z.infer<typeof Quality>;

/** A value of a signal at a time, in the unit the signal is kept in (design section 4.1). */
export const Reading = z.strictObject({
  rigId: z.string().min(1).max(64),
  signal: z.string().min(1).max(96),
  tMs: z.number().int(),
  value: z.number().refine(Number.isFinite, 'finite'),
  quality: Quality,
  reason: z.string().max(64).optional(),
  timeSource: z.enum(['device', 'arrival']),
  /** Order of arrival within one run, strictly rising. */
  arrivalSeq: z.number().int().nonnegative(),
});
export type Reading = z.infer<typeof Reading>;

/** `weather.forecast`: one message from whatever the person runs. */
export const Forecast = z.object({
  issuedMs: z.number().int(),
  points: z
    .array(
      z.object({
        tMs: z.number().int(),
        airTempC: z.number().min(-70).max(70),
        dewPointC: z.number().min(-80).max(50).optional(),
        cloudFrac: z.number().min(0).max(1).optional(),
        ghiWm2: z.number().min(0).max(1600).optional(),
      }),
    )
    .min(1)
    .max(500),
});
export type Forecast = z.infer<typeof Forecast>;

/** One MQTT message as it arrived; a line of a recording is this with `t` for `tMs` (design section 4.3). */
export interface Message {
  readonly tMs: number;
  readonly topic: string;
  readonly payload: Uint8Array;
  readonly retained: boolean;
}

/** Times that a recording may hold, epoch ms: a replay lives through all that lies between two lines. */
const EARLIEST_MS = Date.UTC(2000, 0, 1);
const LATEST_MS = Date.UTC(2200, 0, 1);

export const RecordingLine = z
  .object({
    t: z.number().int().min(EARLIEST_MS, 'not before 2000-01-01, in epoch ms').max(LATEST_MS, 'not after 2200-01-01, in epoch ms'),
    topic: z.string().max(65_535),
    payload: z.string().optional(),
    payloadBase64: z.string().optional(),
    retained: z.boolean().optional(),
  })
  .refine((line) => (line.payload === undefined) !== (line.payloadBase64 === undefined), 'exactly one of payload and payloadBase64');
export type RecordingLine = z.infer<typeof RecordingLine>;
