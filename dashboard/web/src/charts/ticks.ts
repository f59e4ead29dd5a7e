import type { EpochMs } from '../../../../shared/units.ts';
import { civil, clockTime } from '../format/zone.ts';

export interface Tick {
  readonly tMs: EpochMs;
  readonly label: string;
}

const QUARTER_MS = 900_000;

/**
 * Ticks at whole hours of a zone's wall clock that divide by `stepH`, ends included. Walks the quarter hours, so that an hour that a clock change skips has no tick,
 * one that it repeats has one, and zones at +05:30 or +05:45 get round labels.
 */
export function timeTicks(fromMs: EpochMs, toMs: EpochMs, zone: string, stepH: number): Tick[] {
  const ticks: Tick[] = [];
  for (let tMs = Math.ceil(fromMs / QUARTER_MS) * QUARTER_MS; tMs <= toMs; tMs += QUARTER_MS) {
    const at = civil(tMs, zone);
    if (at.minute !== 0 || at.hour % stepH !== 0) continue;
    const label = clockTime(tMs, zone);
    const last = ticks.at(-1);
    if (last?.label === label && tMs - last.tMs < 4 * 3_600_000) continue;
    ticks.push({ tMs, label });
  }
  return ticks;
}
