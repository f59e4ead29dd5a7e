import { noiseOf } from './noise.ts';

/** How often sensors fail here. Chances are per message or per hour. */
export const FAULT_RATES = {
  /** A message that never arrives. */
  lostPerMessage: 0.004,
  /** A board that drops off the Wi-Fi, for 2 to 11 minutes. */
  dropoutPerHour: 1 / 30,
  /** A thermometer board that reboots: its next message shows 85 deg C. */
  rebootPerHour: 1 / 24,
  /** A thermometer that is not on its bus for a moment: -127 deg C. */
  missingPerMessage: 0.0008,
} as const;

const HOUR_MS = 3_600_000;

export interface BoardFaults {
  /** True while the board is off the Wi-Fi. */
  away(tMs: number): boolean;
  /** True when the board has rebooted in (fromMs, toMs]; spans up to an hour. */
  rebooted(fromMs: number, toMs: number): boolean;
}

/** The misfortunes of one sensor board, fixed by seed, name and time. */
export function faultsOf(seed: number, board: string): BoardFaults {
  const drop = noiseOf(seed, `${board}-drop`),
    boot = noiseOf(seed, `${board}-boot`);
  const dropCovers = (hour: number, tMs: number) => {
    if (drop.at(3 * hour) >= FAULT_RATES.dropoutPerHour) return false;
    const fromMs = (hour + drop.at(3 * hour + 1)) * HOUR_MS;
    return tMs >= fromMs && tMs < fromMs + (2 + 9 * drop.at(3 * hour + 2)) * 60_000;
  };
  const bootWithin = (hour: number, fromMs: number, toMs: number) => {
    if (boot.at(2 * hour) >= FAULT_RATES.rebootPerHour) return false;
    const atMs = (hour + boot.at(2 * hour + 1)) * HOUR_MS;
    return atMs > fromMs && atMs <= toMs;
  };
  return {
    away: (tMs) => {
      const hour = Math.floor(tMs / HOUR_MS);
      return dropCovers(hour, tMs) || dropCovers(hour - 1, tMs);
    },
    rebooted: (fromMs, toMs) => {
      const hour = Math.floor(toMs / HOUR_MS);
      return bootWithin(hour, fromMs, toMs) || bootWithin(hour - 1, fromMs, toMs);
    },
  };
}
