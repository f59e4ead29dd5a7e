import type { BankView } from '../shared/schema/flows.ts';
import type { EpochMs } from '../shared/units.ts';
import { DEVICE_STANDS_MS, DISAGREES_FRAC, learnedCapacityAh } from './bank/bank.ts';
import { chemistryOf } from './bank/chemistry.ts';
import { type ClosingCause, closingRemark, explainClosings } from './bank/closings.ts';
import { blockedRemark, chargeBlocked } from './bank/cold.ts';
import { resyncRemark } from './bank/resync.ts';
import { clockText } from './clock.ts';
import { UNEXPLAINED_W } from './history.ts';
import type { EngineState } from './state.ts';
import type { RigModel, Watched } from './types.ts';

const HOUR_MS = 3_600_000;
const DAY_MS = 24 * HOUR_MS;
/** The bank's current missing for so long, or for three times its cadence, is said. */
const SILENT_MS = 5 * 60_000;

/** The bank for the screens, with doubts in words. */
export function bankView(state: EngineState, rig: RigModel, tMs: EpochMs, believed: { socFrac: number; sd: number } | null): BankView {
  const { bank } = state;
  const soc = believed?.socFrac ?? null;
  const device = bank.deviceFrac;
  const cause = explainClosings(bank.closings, bank.belief?.offsetA ?? 0, rig.capacityAh);
  return {
    socPct: soc === null ? null : 100 * soc,
    socSigmaPct: 100 * (believed?.sd ?? 0.3),
    anchoredMs: bank.anchoredMs,
    deviceSocPct: device === null ? null : 100 * device,
    deviceMs: device === null || bank.deviceMs === 0 ? null : bank.deviceMs,
    resync: bank.resync && {
      tMs: bank.resync.tMs,
      fromPct: 100 * bank.resync.fromFrac,
      toPct: 100 * bank.resync.toFrac,
      agrees: bank.resync.agrees,
    },
    lastClosing: bank.closings.at(-1) ?? null,
    unseenA: cause === null || cause.currentA === 0 ? null : cause.currentA,
    capacityAh: learnedCapacityAh(bank, rig),
    voltageV: bank.voltage?.valueV ?? null,
    currentA: bank.current?.valueA ?? null,
    remarks: remarksOf(state, rig, tMs, soc, cause),
  };
}

/** A learned capacity is said from this far beside the rated one on. */
const OTHER_CAPACITY = 0.03;

/** The doubts about the bank in words. */
function remarksOf(state: EngineState, rig: RigModel, tMs: EpochMs, soc: number | null, cause: ClosingCause | null): string[] {
  const { bank } = state;
  const remarks: string[] = [];
  const days = bank.anchoredMs === null ? null : (tMs - bank.anchoredMs) / DAY_MS;
  if (soc !== null && days === null) remarks.push('no full charge seen yet');
  if (days !== null && days > 4) remarks.push(`last full charge ${Math.floor(days)} days ago`);
  const device = tMs - bank.deviceMs <= DEVICE_STANDS_MS ? bank.deviceFrac : null;
  if (soc !== null && device !== null && Math.abs(device - soc) > DISAGREES_FRAC) {
    remarks.push(`the device says ${Math.round(100 * device)} %, counting says ${Math.round(100 * soc)} %`);
  }
  if (bank.resync && tMs - bank.resync.tMs < DAY_MS) remarks.push(resyncRemark(bank.resync, (at) => clockText(rig.timeZone, at)));
  if (soc !== null && bank.current && tMs - bank.current.tMs >= Math.max(SILENT_MS, 3000 * (rig.everyS.get('bank.current') ?? 0))) {
    remarks.push(`no current of the whole bank for ${Math.floor((tMs - bank.current.tMs) / 60_000)} min: a shunt is silent, the state of charge is assumed`);
  }
  if (state.unexplainedW > UNEXPLAINED_W) {
    remarks.push(`at least ${10 * Math.round(state.unexplainedW / 10)} W come in from no known source; nothing is learned from them`);
  }
  if (cause) remarks.push(closingRemark(cause));
  const capacityAh = learnedCapacityAh(bank, rig);
  if (Math.abs(capacityAh / rig.capacityAh - 1) > OTHER_CAPACITY) {
    remarks.push(`the bank holds about ${Math.round(capacityAh)} Ah by the shunt, of ${Math.round(rig.capacityAh)} Ah rated`);
  }
  const temperature = state.latest['bank.temperature'];
  const tempC = temperature && tMs - temperature.tMs <= HOUR_MS ? temperature.value : null;
  if (tempC !== null && chargeBlocked(chemistryOf(rig), tempC)) remarks.push(blockedRemark(tempC));
  return remarks;
}

/** A projection older than this no longer speaks for the night, ms. */
export const STALE_PROJECTION_MS = 35 * 60_000;

/** What the alarms look at. Without a projection that can be trusted it is unknown, never normal. */
export function watchedOf(state: EngineState, rig: RigModel, tMs: EpochMs, bankSilent: boolean): Watched {
  const p = state.projection;
  const usable = p !== null && tMs - p.tMs < STALE_PROJECTION_MS && !bankSilent ? p : null;
  return {
    belowFloorProbability: usable?.belowFloorProbability ?? null,
    text: {
      lowPointPct: usable?.lowPoint.p50Pct ?? null,
      lowPointMs: usable?.lowPoint.tMs ?? null,
      floorPct: usable?.floorPct ?? 100 * rig.floorFrac,
      belowFloorMs: usable?.belowFloorMs ?? null,
      isUnder: usable !== null && usable.nightStartMs <= tMs && usable.socPct < usable.floorPct,
      comingNightEndMs: usable && usable.nightStartMs > tMs ? usable.nightEndMs : null,
      timeZone: rig.timeZone,
    },
    unknownBecause: usable
      ? ''
      : p === null
        ? 'no projection has been made yet'
        : bankSilent
          ? "the bank's shunt is silent, or what it says is not believed"
          : 'the last projection is too old',
  };
}
