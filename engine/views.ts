import type { BankView } from '../shared/schema/flows.ts';
import type { EpochMs } from '../shared/units.ts';
import type { EngineState } from './state.ts';
import type { RigModel, Watched } from './types.ts';

const DAY_MS = 86_400_000;

/** The bank for the screens, with doubts in words. */
export function bankView(state: EngineState, rig: RigModel, tMs: EpochMs, believed: { socFrac: number; sd: number } | null): BankView {
  const { bank } = state;
  const soc = believed?.socFrac ?? null;
  const device = bank.deviceFrac;
  const remarks: string[] = [];
  const days = bank.anchoredMs === null ? null : (tMs - bank.anchoredMs) / DAY_MS;
  if (soc !== null && days === null) remarks.push('no full charge seen yet');
  if (days !== null && days > 4) remarks.push(`last full charge ${Math.floor(days)} days ago`);
  if (soc !== null && device !== null && Math.abs(device - soc) > 0.08) {
    remarks.push(`the device says ${Math.round(100 * device)} %, counting says ${Math.round(100 * soc)} %`);
  }
  const closing = closingAh(state);
  if (closing !== null && Math.abs(closing) > 0.03 * rig.capacityAh) {
    const way = closing > 0 ? 'too late' : 'too early';
    remarks.push(`each full charge closes ${Math.abs(Math.round(closing))} Ah ${way}: a load past the shunt, an offset, or another capacity`);
  }
  return {
    socPct: soc === null ? null : 100 * soc,
    socSigmaPct: 100 * (believed?.sd ?? 0.3),
    anchoredMs: bank.anchoredMs,
    deviceSocPct: device === null ? null : 100 * device,
    capacityAh: rig.capacityAh,
    voltageV: bank.voltage?.valueV ?? null,
    currentA: bank.current?.valueA ?? null,
    remarks,
  };
}

/** The middle one of the last closing errors, Ah; null before three full charges. */
function closingAh(state: EngineState): number | null {
  const last = state.bank.closings
    .slice(-4)
    .map((c) => c.errorAh)
    .sort((a, b) => a - b);
  return last.length >= 3 ? (last[Math.floor(last.length / 2)] ?? null) : null;
}

/** A projection older than this no longer speaks for the night, ms. */
const STALE_PROJECTION_MS = 35 * 60_000;

/** What the alarms look at. Without a projection that can be trusted it is unknown, never normal. */
export function watchedOf(state: EngineState, rig: RigModel, tMs: EpochMs, bankSilent: boolean): Watched {
  const p = state.projection;
  const usable = p !== null && tMs - p.tMs < STALE_PROJECTION_MS && !bankSilent ? p : null;
  return {
    belowFloorProbability: usable?.belowFloorProbability ?? null,
    text: {
      lowPointPct: usable?.lowPoint.p50Pct ?? null,
      lowPointMs: usable?.lowPoint.tMs ?? null,
      floorPct: 100 * rig.floorFrac,
      belowFloorMs: usable?.belowFloorMs ?? null,
      timeZone: rig.timeZone,
    },
    unknownBecause: usable ? '' : p === null ? 'no projection has been made yet' : bankSilent ? "the bank's shunt is silent" : 'the last projection is too old',
  };
}
