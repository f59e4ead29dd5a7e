import { z } from 'zod';

const pct = z.number().min(0).max(100);

/** Where the rig stood, to about a kilometre: enough to tell stops apart. */
export const LedgerPlace = z.strictObject({ latitudeDeg: z.number().min(-90).max(90), longitudeDeg: z.number().min(-180).max(180) });
export type LedgerPlace = z.infer<typeof LedgerPlace>;

/** What the panels did not give that day, against a clear sky with nothing in the way, and what speaks for its kind. */
export const PanelLoss = z.strictObject({
  kind: z.enum(['full-bank', 'horizon', 'shade-like', 'cloud', 'dirt', 'unknown']),
  lostWh: z.number(),
  evidence: z.string().max(200).describe('in words'),
});
export type PanelLoss = z.infer<typeof PanelLoss>;

/** The ledger row of a calendar day of the rig's zone. Energies in Wh at the bank's bus; null where nothing was measured. */
export const DayRow = z.strictObject({
  dayId: z.string().describe('local date, YYYY-MM-DD'),
  fromMs: z.number().int(),
  toMs: z.number().int(),
  coverage: z.number().min(0).max(1).describe('share of the day with readings of the bank'),
  panelsWh: z.number().nullable(),
  chargersWh: z.number(),
  minisplitWh: z.number().nullable().describe('as drawn behind the inverter; its loss is in inverterWh'),
  standingWh: z.number().nullable(),
  inverterWh: z.number().nullable(),
  bankInWh: z.number(),
  bankOutWh: z.number(),
  surplusWh: z.number().describe('what the panels could have given and nothing took, estimated'),
  unexplainedChargeWh: z.number().describe('what the bank gained without a known source'),
  socMinPct: pct.nullable(),
  socMaxPct: pct.nullable(),
  socEndPct: pct.nullable(),
  outsideMinC: z.number().nullable(),
  outsideMeanC: z.number().nullable(),
  outsideMaxC: z.number().nullable(),
  place: LedgerPlace.nullable(),
  panelLosses: z.array(PanelLoss).optional().describe('greatest first; left out where nothing was judged'),
});
export type DayRow = z.infer<typeof DayRow>;

/** How projections of one kind did: points of state of charge, what came less what was said. */
export const TrackFigures = z.strictObject({
  nights: z.number().int().nonnegative(),
  biasPct: z.number().nullable().describe('mean of what came less the median said; positive: it said too little'),
  meanErrorPct: z.number().nullable().describe('mean distance of the median said from what came'),
  insideShare: z.number().min(0).max(1).nullable().describe('share of nights inside p10 to p90, ends included; 0.8 is right'),
});
export type TrackFigures = z.infer<typeof TrackFigures>;

const SaidOf = z.strictObject({ sunrise: TrackFigures, lowPoint: TrackFigures });

/** The engine's own track record over its last nights, by when the projection was made. */
export const TrackRecord = z.strictObject({ atSunset: SaidOf, atBedtime: SaidOf });
export type TrackRecord = z.infer<typeof TrackRecord>;

/** Nights in a row at one place, with their means. */
export const Stay = z.strictObject({
  place: LedgerPlace.nullable(),
  fromNightId: z.string(),
  toNightId: z.string(),
  nights: z.number().int().positive(),
  minisplitWh: z.number().nullable(),
  standingWh: z.number().nullable(),
  bankOutWh: z.number(),
  lowPointPct: pct,
  outsideMeanC: z.number().nullable(),
  dewPointC: z.number().nullable(),
});
export type Stay = z.infer<typeof Stay>;
