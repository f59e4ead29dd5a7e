import { z } from 'zod';
import { LogLine } from './alarm-book.ts';
import { LedgerPlace } from './ledger.ts';
import { AnnouncedLoad } from './plan.ts';
import { NightRow } from './projection.ts';

const pct = z.number().min(0).max(100);
const nightId = z.string().regex(/^\d{4}-\d{2}-\d{2}$/, 'local date of the evening, YYYY-MM-DD');

/** What a person calls a place; '' where they have not named it. Names hold for all nights within about two kilometres. */
export const PlaceName = z.strictObject({ place: LedgerPlace, name: z.string().max(40) });
export type PlaceName = z.infer<typeof PlaceName>;

/** GET /api/places  The places that have a name. */
export const PlaceNames = z.array(PlaceName);

/** GET /api/night-curves?fromMs=&toMs=  The state of charge of each night that ended in the range, from its start to its end, thinned to at most 48 points for a small picture; oldest night first. */
export const NightCurves = z.array(
  z.strictObject({ nightId, fromMs: z.number().int(), stepMs: z.number().positive(), socPct: z.array(pct.nullable()).max(48) }),
);
export type NightCurves = z.infer<typeof NightCurves>;

/** What GET /api/nights and /api/night answer with: JSON, or the same as a file for a spreadsheet. */
const format = z.enum(['json', 'csv']).default('json');

export const NightQuery = z.object({ nightId, format });

/** GET /api/nights?fromMs=&toMs=&format=csv&latitudeDeg=&longitudeDeg=  The file may be of the nights at one place alone. */
export const NightsFileQuery = z.object({
  format,
  latitudeDeg: z.coerce.number().min(-90).max(90).optional(),
  longitudeDeg: z.coerce.number().min(-180).max(180).optional(),
});

/** A mean over ten minutes of a night, from noon to noon. Powers at the bus in W, temperatures in Cel, null where nothing was measured. */
export const NightPoint = z.strictObject({
  tMs: z.number().int(),
  socPct: pct.nullable(),
  panelsW: z.number().nullable(),
  chargersW: z.number().nullable(),
  minisplitW: z.number().nullable(),
  standingW: z.number().nullable(),
  inverterW: z.number().nullable(),
  surplusW: z.number().nullable(),
  outsideC: z.number().nullable(),
  cabinC: z.number().nullable(),
  setpointC: z.number().nullable(),
});
export type NightPoint = z.infer<typeof NightPoint>;

/** GET /api/night?nightId=  All that is kept of one night. */
export const NightDetail = z.strictObject({
  row: NightRow,
  fromMs: z.number().int().describe('noon before the night, in the time zone of the rig'),
  toMs: z.number().int().describe('noon after it'),
  points: z.array(NightPoint),
  floorPct: pct.nullable().describe('the floor as it was that night, by its projections; null when none was kept'),
  said: z
    .array(z.strictObject({ tMs: z.number().int(), p10Pct: pct, p50Pct: pct, p90Pct: pct, lowPointMs: z.number().int() }))
    .describe('low point as it was projected through the night, oldest first'),
  loads: z.array(AnnouncedLoad).describe('loads that were announced for the night'),
  events: z.array(LogLine).describe('what alarms, deliveries and people did, oldest first'),
  note: z.string().max(2000),
  placeName: z.string().max(40),
});
export type NightDetail = z.infer<typeof NightDetail>;
