import type { z } from 'zod';
import type { Freshness } from '../../../../shared/schema/live.ts';
import type { RejectReason, Remark } from '../../../../shared/schema/reading.ts';

/** Why a payload gave no reading, for people. */
export const REJECT_WORDS: Readonly<Record<RejectReason, string>> = {
  empty: 'no value',
  'not-a-number': 'not a number',
  'not-finite': 'not a finite number',
  'unit-mismatch': 'another unit than the rig file says',
  'too-large': 'payload too large',
  'too-deep': 'nested too deep',
  'not-utf8': 'not UTF-8 text',
  'bad-json': 'not valid JSON',
  'no-such-field': 'the field is not there',
  'bad-senml': 'not a SenML pack',
  sentinel: 'the board\'s sign for "no value"',
  'out-of-range': 'out of range',
  'sibling-bad': 'another value of the same message was bad',
  duplicate: 'sent twice',
  'not-a-mode': 'not a known mode',
  'bad-forecast': 'not a forecast',
};

/** What was noticed on a payload that was taken all the same. */
export const REMARK_WORDS: Readonly<Record<Remark, string>> = {
  trimmed: 'spaces were cut off',
  'time-implausible': "the board's time is not plausible, arrival counts",
  'time-without-zone': "the board's time names no zone",
  retained: 'kept by the broker from before',
  'duplicate-key': 'a field stands there twice',
  late: 'came late',
  'unit-suggested': 'the payload names a unit',
};

export const FRESHNESS_WORDS: Readonly<Record<z.infer<typeof Freshness>, string>> = {
  fresh: 'fresh',
  silent: 'silent',
  'last-known': 'last known only',
  never: 'nothing yet',
};
