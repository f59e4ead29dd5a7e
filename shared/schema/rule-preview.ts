import { z } from 'zod';
import { Priority } from './alarm.ts';
import { AlarmEntry } from './alarm-rule.ts';

/** POST /api/rule-preview  How a rule would have done over the last nights, worked out from what is stored. */
export const RulePreviewQuestion = z.strictObject({ entry: AlarmEntry, nights: z.int().min(1).max(60).default(30) });
export type RulePreviewQuestion = z.infer<typeof RulePreviewQuestion>;

/** One time that it would have stood. */
const Sounding = z.strictObject({
  raisedMs: z.number().int().describe('after its on-delay'),
  clearedMs: z.number().int().nullable().describe('null: it stood at the end of the range'),
  priority: Priority.describe('the highest it reached'),
  forUnknown: z.boolean().describe('raised because its input was missing'),
});

/** A stretch from noon to noon of the time zone of the rig. */
const PreviewNight = z.strictObject({
  nightId: z.string().describe('local date of the evening, YYYY-MM-DD'),
  fromMs: z.number().int(),
  toMs: z.number().int(),
  soundings: z.array(Sounding),
  seenShare: z
    .number()
    .min(0)
    .max(1)
    .describe('share of the time for which all that it watches could be rebuilt; the rest counts as not seen, neither quiet nor loud'),
});

export const RulePreview = z.strictObject({
  fromMs: z.number().int(),
  toMs: z.number().int(),
  stepS: z.number().positive().describe('the past is looked at in steps of this length; live it is 10 s'),
  nights: z.array(PreviewNight).describe('oldest first'),
  soundings: z.number().int().nonnegative(),
  nightsWithSound: z.number().int().nonnegative(),
  standsNow: z.boolean(),
  notWatched: z.string().describe("why it cannot be watched on this rig; '' when it can"),
  notRebuilt: z.array(z.string()).describe('what it watches that is not stored, in words; the preview says nothing of these parts'),
});
export type RulePreview = z.infer<typeof RulePreview>;
