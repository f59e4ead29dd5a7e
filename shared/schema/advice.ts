import { z } from 'zod';
import { MOST_PEAK_W, MOST_RUN_MINUTES } from '../load-limits.ts';
import { Effect, Help } from './help.ts';
import { AnnouncedLoad } from './plan.ts';
import { Rung, SocQuantiles } from './projection.ts';

const probability = z.number().min(0).max(1);
const confidence = probability.min(0.5).max(0.99).default(0.8).describe('how sure the owner wants to be that the floor holds');

/** What can be asked of the engine beside the projection. */
export const AdviceQuestion = z.discriminatedUnion('kind', [
  z.strictObject({ kind: z.literal('tonight'), confidence }),
  z.strictObject({
    kind: z.literal('run'),
    powerW: AnnouncedLoad.shape.powerW,
    minutes: z.number().positive().max(MOST_RUN_MINUTES),
    startMs: z.number().int(),
    peakW: z.number().positive().max(MOST_PEAK_W).nullable().default(null).describe('what it draws as it starts; null: no more than powerW'),
    confidence,
  }),
]);
export type AdviceQuestion = z.infer<typeof AdviceQuestion>;

const SetpointAdvice = z.strictObject({
  setpointC: z.number().nullable().describe('the coolest (heating: the warmest) that holds the floor all night; null when none does'),
  rung: Rung.nullable(),
  nowHolds: z.boolean().describe('whether the setpoint in force holds'),
});

const ScheduleAdvice = z.strictObject({
  firstC: z.number().describe('the setpoint in force, from now'),
  thenC: z.number(),
  changeMs: z.number().int(),
  effect: Effect,
});

const SurplusAdvice = z.strictObject({
  fromMs: z.number().int(),
  toMs: z.number().int(),
  surplusWh: z.number().describe('what the panels are expected to give that day and nothing takes'),
  usedWh: z.number().describe('what the mini-split can make of it'),
  setpointC: z.number().describe('cabin temperature that is reached with it'),
  effect: Effect.describe('on the night after that day'),
});

const NightAhead = z.strictObject({ lowPoint: SocQuantiles, holdsProbability: probability });

const TwoNights = z.strictObject({
  first: NightAhead,
  secondUsual: NightAhead.describe('after a day like the past ones'),
  secondCloudy: NightAhead.describe('after a cloudy day'),
  cloudyIndex: z.number().describe('what counts as cloudy: share of clear-sky power'),
});

const DarkPanels = z.strictObject({
  hoursP10: z.number().nullable().describe('from now until the floor, one case in ten is sooner; null: beyond the horizon'),
  hoursP50: z.number().nullable(),
  pastTakeoverH: z
    .number()
    .nullable()
    .describe('median, from when the panels usually take over; negative: the floor is reached before; null: no takeover, or beyond the horizon'),
  horizonH: z.number(),
});

export const DOUBTS = ['outside', 'minisplit', 'standing', 'soc', 'sun'] as const;
/** Where tonight's energy goes, from now (or the evening) to the takeover, and what its doubt comes from. */
export const Breakdown = z.strictObject({
  energyWh: z.strictObject({ minisplit: z.number(), standing: z.number(), planned: z.number(), inverter: z.number(), panels: z.number() }),
  doubt: z
    .array(z.strictObject({ source: z.enum(DOUBTS), share: probability }))
    .describe('share in the variance of the low point, the largest first; what is left to 1 comes of several together'),
  words: z.string().max(300),
});
export type Breakdown = z.infer<typeof Breakdown>;

/** The answer to `tonight`. Parts that cannot be given are null: no mini-split, not learned yet, nothing to save. */
export const TonightAdvice = z.strictObject({
  kind: z.literal('tonight'),
  tMs: z.number().int(),
  confidence: probability,
  base: NightAhead,
  ladder: z.array(Rung),
  setpoint: SetpointAdvice.nullable(),
  schedule: ScheduleAdvice.nullable().describe('null when the setpoint in force holds, or none does'),
  surplus: SurplusAdvice.nullable(),
  twoNights: TwoNights.nullable().describe('null where the sun does not rise'),
  darkPanels: DarkPanels,
  helps: z.array(Help),
  breakdown: Breakdown,
});
export type TonightAdvice = z.infer<typeof TonightAdvice>;

export const RUN_LIMITS = ['above-rating', 'above-surge', 'under-cutoff', 'floor', 'too-far-ahead'] as const;
/** The answer to `run`. */
export const RunAdvice = z.strictObject({
  kind: z.literal('run'),
  tMs: z.number().int(),
  verdict: z.enum(['yes', 'no', 'unknown']),
  limits: z.array(z.enum(RUN_LIMITS)).describe('what speaks against it'),
  costPct: z.number().describe('points of state of charge that it takes by itself'),
  before: NightAhead,
  effect: Effect,
  inverterW: z.number().nullable().describe('all that the inverter is expected to carry while it runs'),
  inverterPeakW: z.number().nullable().describe('and as it starts'),
  ratedW: z.number().nullable(),
  surgeW: z.number().nullable(),
  lowestV: z.number().nullable().describe('lowest bank voltage expected, one case in ten lower; null: the bank cannot give so much at all'),
  cutoffV: z.number().nullable(),
});
export type RunAdvice = z.infer<typeof RunAdvice>;

export const Advice = z.discriminatedUnion('kind', [TonightAdvice, RunAdvice]);
export type Advice = z.infer<typeof Advice>;
