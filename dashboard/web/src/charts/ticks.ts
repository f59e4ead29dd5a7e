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

/** Steps between labels, h: all of them divide a day. */
const STEPS_H = [3, 6, 12];
/** Room that a label needs with the space to the next one, and that the chart keeps free at its sides, rem. */
const LABEL_REM = 3.2;
const SIDES_REM = 3.9;

/** Hours from label to label so that labels stay apart: on a chart `widthPx` wide whose text is `remPx` large. 24 where nothing less has room. */
export function stepHours(spanMs: number, widthPx: number, remPx: number): number {
  const roomMs = (LABEL_REM * remPx * spanMs) / Math.max(1, widthPx - SIDES_REM * remPx);
  return STEPS_H.find((stepH) => stepH * 3_600_000 >= roomMs) ?? 24;
}
