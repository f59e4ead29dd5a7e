import { z } from 'zod';
import { Help, SocQuantiles } from './help.ts';
import { LedgerPlace } from './ledger.ts';

export { SocQuantiles };

/** Percent 0 to 100. */
const pct = z.number().min(0).max(100);

/** Mean powers expected at one step of the curve, W, at the bank's bus. */
const CurvePoint = z.strictObject({
  tMs: z.number().int(),
  p10Pct: pct,
  p25Pct: pct,
  p50Pct: pct,
  p75Pct: pct,
  p90Pct: pct,
  panelsW: z.number(),
  minisplitW: z.number(),
  standingW: z.number(),
  inverterW: z.number(),
});

/** One rung of the setpoint ladder. */
export const Rung = z.strictObject({
  setpointC: z.number(),
  sunriseP50Pct: pct,
  lowPoint: SocQuantiles,
  minisplitWh: z.number(),
  holdsProbability: z.number().min(0).max(1),
  cabinC: z.number().nullable().optional().describe('expected cabin temperature, mean from sunset to sunrise; null where the cabin is not measured'),
  cabinRhPct: pct.nullable().optional().describe('expected relative humidity of the cabin, the same mean; null where it is not measured'),
});
export type Rung = z.infer<typeof Rung>;

export const VERDICTS = ['holds', 'tight', 'falls-short', 'learning', 'unknown'] as const;

/** What the engine says of the rest of this night. */
export const Projection = z.strictObject({
  tMs: z.number().int().describe('when it was made'),
  socPct: pct,
  socSigmaPct: z.number().nonnegative(),
  sunrise: SocQuantiles.nullable().describe('null where the sun does not rise, or the place is unknown'),
  lowPoint: SocQuantiles,
  takeover: z.strictObject({ tMs: z.number().int() }).nullable(),
  takeoverProbability: z.number().min(0).max(1),
  floorPct: pct,
  belowFloorProbability: z.number().min(0).max(1),
  belowFloorMs: z
    .number()
    .int()
    .nullable()
    .describe('median time of falling under the floor, among the members that do; null when fewer than one in twenty does'),
  marginWh: z.number().describe('energy above the floor at the low point, median; negative below it'),
  nightStartMs: z.number().int(),
  nightEndMs: z.number().int(),
  nights: z.number().int().nonnegative().describe('how many nights it has learned from'),
  verdict: z.enum(VERDICTS),
  doubts: z.array(z.string().max(160)).describe('what makes it less sure, in words; empty when nothing does'),
  curve: z.array(CurvePoint),
  ladder: z.array(Rung),
  energyWh: z
    .strictObject({ minisplit: z.number(), standing: z.number(), inverter: z.number(), panels: z.number() })
    .describe('mean energies over the members, from now to the end of this night'),
  helps: z
    .array(Help)
    .max(6)
    .optional()
    .describe('what would help, each by itself, the most helpful first; left out while the bank holds well, or nobody reads it'),
});
export type Projection = z.infer<typeof Projection>;

/** What a projection said, kept with the night that it spoke of. */
const Said = z.strictObject({ sunrise: SocQuantiles.nullable(), lowPoint: SocQuantiles });

/** The ledger row of a night (design section 4.3, kind "night"). Energies in Wh over the night. */
export const NightRow = z.strictObject({
  nightId: z.string().describe('local date of the evening, YYYY-MM-DD'),
  startMs: z.number().int(),
  sunsetMs: z.number().int().nullable(),
  sunriseMs: z.number().int().nullable(),
  endMs: z.number().int(),
  startSocPct: pct,
  sunriseSocPct: pct.nullable(),
  lowPointPct: pct,
  lowPointMs: z.number().int(),
  takeoverMs: z.number().int().nullable(),
  minisplitWh: z.number().nullable(),
  standingWh: z.number().nullable(),
  inverterWh: z.number().nullable(),
  panelsWh: z.number(),
  bankOutWh: z.number(),
  chargersWh: z.number().optional().describe('from measured chargers other than the panels'),
  unexplainedChargeWh: z.number().describe('what the bank gained without a known source'),
  outsideMinC: z.number().nullable(),
  outsideMeanC: z.number().nullable(),
  outsideMaxC: z.number().nullable().optional(),
  cabinMeanC: z.number().nullable(),
  minisplitEstimated: z.boolean().optional().describe('nothing measures the mini-split: its part of the loads is told by the weather'),
  setpointC: z.number().nullable().describe('the one held longest between sunset and sunrise, deg C'),
  projectedAtSunset: Said.nullable(),
  projectedAtBedtime: Said.nullable().optional().describe('at 22:30 of the rig, or four hours after sunset where that is no time of the night'),
  minisplitShare: z.number().min(0).max(1).nullable().optional().describe('share of the mini-split, heating or cooling, in all that was drawn'),
  surplusWh: z.number().optional().describe('what the panels could have given after sunrise and nothing took, estimated'),
  dewPointC: z.number().nullable().optional().describe('outside, from the mean temperature and humidity'),
  cabinDewPointC: z.number().nullable().optional().describe('in the cabin, likewise'),
  place: LedgerPlace.nullable().optional(),
  learnedFrom: z.boolean().describe('false when gaps or unexplained energy keep it out of learning'),
  coverage: z.number().min(0).max(1).describe('share of the night with readings'),
});
export type NightRow = z.infer<typeof NightRow>;
