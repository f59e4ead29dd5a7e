import { z } from 'zod';
import { PairedDevice, Role } from './pairing.ts';
import { RigFile, SIGNAL_PARTS } from './rig-file.ts';

const { rig, place, bank, inverter, panels, minisplit, broker, store } = RigFile.shape;

/** Sections of the rig file that a screen shows and changes, values in the units kept; null: left out. Without secrets and paths. */
export const RigSections = z.strictObject({
  rig,
  place: place.unwrap().nullable(),
  bank,
  inverter: inverter.unwrap().nullable(),
  panels,
  minisplit: minisplit.unwrap().nullable(),
  broker,
  store,
});
export type RigSections = z.infer<typeof RigSections>;

/** What of the rig file changes. A section is given whole; only the keys that differ are written. */
export const RigChange = z.discriminatedUnion('what', [
  z.strictObject({ what: z.literal('rig'), value: rig }),
  z.strictObject({ what: z.literal('place'), value: RigSections.shape.place }),
  z.strictObject({ what: z.literal('bank'), value: bank }),
  z.strictObject({ what: z.literal('inverter'), value: RigSections.shape.inverter }),
  z.strictObject({ what: z.literal('panels'), value: panels }),
  z.strictObject({ what: z.literal('minisplit'), value: RigSections.shape.minisplit }),
  z.strictObject({ what: z.literal('broker'), value: broker }),
  z.strictObject({ what: z.literal('store'), value: store }),
  z.strictObject({ what: z.literal('floor'), floorPct: z.number().min(0).max(100) }),
  z.strictObject({ what: z.literal('confidence'), confidencePct: z.number().min(50).max(99) }),
  z.strictObject({ what: z.literal('signal'), name: z.string().max(96), spec: SIGNAL_PARTS.signal.nullable() }).describe('null: no longer mapped'),
  z.strictObject({ what: z.literal('forecast'), spec: SIGNAL_PARTS.forecast.nullable() }),
  z
    .strictObject({ what: z.literal('offset'), name: z.string().max(96), offset: z.number() })
    .describe('of a signal that is read from one topic, in the unit and sign of the board'),
  z.strictObject({ what: z.literal('set-up'), done: z.literal(true) }).describe('the guide is finished'),
]);
export type RigChange = z.infer<typeof RigChange>;

/** GET /api/rig-book  The rig's settings, and the box that it runs on. */
export const RigBook = z.strictObject({
  hash: z.string().nullable().describe('of the rig file, to be given with an edit; null where it cannot be edited here'),
  whyFixed: z.string().describe("why it cannot be edited here; '' when it can"),
  setUp: z.boolean().describe('false while the guide is not finished'),
  sections: RigSections,
  signals: z.array(z.strictObject({ name: z.string(), spec: SIGNAL_PARTS.signal })),
  forecast: SIGNAL_PARTS.forecast.nullable(),
  routes: z.array(z.strictObject({ name: z.string(), kind: z.string() })),
  capacityLearnedAh: z.number().nullable(),
  versions: z.array(z.strictObject({ name: z.string(), version: z.string() })).describe('the program, what it runs on, and the shapes of what it keeps'),
  process: z.strictObject({ startedMs: z.number().int(), memoryBytes: z.number().int().describe('resident') }),
  storage: z.strictObject({
    kind: z.enum(['embedded', 'memory']),
    bytes: z.number().int().describe('the store with its journal'),
    freeBytes: z.number().int().nullable().describe('free on its disk; null when the system does not tell'),
    oldestMs: z.number().int().nullable().describe('oldest minute kept'),
    documents: z.number().int().nonnegative().describe('nights, days and other documents kept'),
  }),
});
export type RigBook = z.infer<typeof RigBook>;

/** GET /api/devices  Who is paired; operators only. */
export const DeviceList = z.array(PairedDevice.extend({ lastSeenMs: z.number().int(), isThis: z.boolean().describe('the device that asks') }));
export type DeviceList = z.infer<typeof DeviceList>;

/** POST /api/devices/code  A code that lets one more device in; it takes the place of an earlier one. */
export const CodeRequest = z.strictObject({ role: Role });
export const CodeAnswer = z.strictObject({ code: z.string(), expiresMs: z.number().int().describe('wall-clock time of the box') });
export type CodeAnswer = z.infer<typeof CodeAnswer>;

/** POST /api/devices/revoke  Takes a device's rights back; its open screens are cut off within a minute. */
export const RevokeRequest = z.strictObject({ deviceId: z.uuid() });
export const RevokeAnswer = z.strictObject({ revoked: z.boolean() });

/** GET /api/log-lines?limit=  The newest lines of the program's own log since its start, oldest first. */
export const LogLinesQuery = z.object({ limit: z.coerce.number().int().min(1).max(1000).default(200) });
export const LogLines = z.array(z.strictObject({ tMs: z.number().int(), level: z.enum(['info', 'warning', 'error']), text: z.string().max(2000) }));
export type LogLines = z.infer<typeof LogLines>;

/** GET /api/backup?secrets=no|yes  One file with all that is kept and the rig file; operators only. Without secrets, paired devices and phones that get alarms must be set up again. */
export const BackupQuery = z.object({ secrets: z.enum(['no', 'yes']).default('no') });

/** POST /api/restore with such a file as application/octet-stream; operators only. What it replaces is set aside; the program starts anew by itself. */
export const RestoreAnswer = z.strictObject({ rigName: z.string(), takenMs: z.number().int(), nights: z.number().int(), words: z.string() });
export type RestoreAnswer = z.infer<typeof RestoreAnswer>;
