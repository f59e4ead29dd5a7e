import { z } from 'zod';

/** A power that may be missing: null with the reason, never 0. */
const watts = z.number().nullable();

/** The balance of powers at the bank's bus, W, derived from the latest readings. Sources minus sinks minus `unaccountedW` is zero. */
export const Flows = z.strictObject({
  tMs: z.number().int(),
  bankW: watts.describe('positive: charging'),
  panelsW: watts,
  chargers: z.array(z.strictObject({ name: z.string(), powerW: watts })),
  minisplitW: watts.describe('as drawn behind the inverter, ac side; its loss is in inverterW'),
  loads: z.array(z.strictObject({ name: z.string(), powerW: watts })).describe('measured loads but the mini-split'),
  standingW: watts.describe('all loads but the mini-split and the planned ones; includes the measured loads'),
  inverterW: watts.describe('what the inverter itself takes'),
  unaccountedW: watts.describe('what measured powers leave over; positive: more comes in than is known to go out'),
  surplusW: watts.describe('panel power thrown away because the bank takes no more, estimated; null when not curtailed or unknown'),
  missing: z.array(z.strictObject({ signal: z.string(), lost: z.string() })).describe('inputs that are silent or not mapped, and what is lost by it'),
});
export type Flows = z.infer<typeof Flows>;

/** The bank as the engine sees it. */
export const BankView = z.strictObject({
  socPct: z.number().min(0).max(100).nullable(),
  socSigmaPct: z.number().nonnegative(),
  anchoredMs: z.number().int().nullable().describe('last full charge seen'),
  deviceSocPct: z.number().nullable(),
  deviceMs: z.number().int().nullable().optional().describe('when the device last said its own state of charge'),
  resync: z
    .strictObject({ tMs: z.number().int(), fromPct: z.number(), toPct: z.number(), agrees: z.boolean() })
    .nullable()
    .optional()
    .describe('the last step of the value of the device that no charge explains; agrees: it came to where counting stood'),
  lastClosing: z
    .strictObject({ tMs: z.number().int(), errorAh: z.number() })
    .nullable()
    .optional()
    .describe('what counting was short of full at the last full charge that followed another; negative: it was full too early'),
  unseenA: z
    .number()
    .nullable()
    .optional()
    .describe('steady current that the shunt does not see, by how full charges close; negative: a load wired past it, or its offset'),
  capacityAh: z.number().describe('as learned; the rated one until there is evidence'),
  voltageV: z.number().nullable(),
  currentA: z.number().nullable(),
  remarks: z.array(z.string().max(200)).describe('doubts about the estimate, in words'),
});
export type BankView = z.infer<typeof BankView>;
