import type { EpochMs } from '../../../../shared/units.ts';
import { civil, fromCivil } from '../format/zone.ts';

/** A span of time on the x axis. */
export interface Span {
  readonly fromMs: EpochMs;
  readonly toMs: EpochMs;
}

/** The last local noon at or before a moment. */
export function noonBefore(tMs: EpochMs, zone: string): EpochMs {
  const at = civil(tMs, zone);
  const noon = fromCivil(at.year, at.month, at.day, 12, zone);
  if (noon <= tMs) return noon;
  const before = civil(noon - 86_400_000, zone);
  return fromCivil(before.year, before.month, before.day, 12, zone);
}

/** The local noon after a noon; 23 to 25 h later. */
export function noonAfter(noonMs: EpochMs, zone: string): EpochMs {
  const next = civil(noonMs + 86_400_000, zone);
  return fromCivil(next.year, next.month, next.day, 12, zone);
}

const HOUR_MS = 3_600_000;
/** A coming night whose noon lies further ahead has no end that is known; from so long before noon on it is morning. */
const FAR_MS = 12 * HOUR_MS;
const MORNING_MS = 6 * HOUR_MS;

/**
 * The noon-to-noon window that shows this night: the one in which the night ends. In the morning, when this night is the coming one and its noon is still ahead,
 * the window starts at the last three-hour mark before now instead, so that now is never off the page. Where no takeover is in sight, it is the night of now.
 */
export function nightWindow(nowMs: EpochMs, nightEndMs: EpochMs | null, zone: string): Span {
  const endMs = nightEndMs !== null && nightEndMs > nowMs ? nightEndMs - 1 : nowMs;
  const isFar = noonBefore(endMs, zone) - nowMs > FAR_MS;
  const fromMs = noonBefore(isFar ? nowMs + MORNING_MS : endMs, zone);
  const toMs = noonAfter(fromMs, zone);
  if (nowMs >= fromMs) return { fromMs, toMs };
  const at = civil(nowMs - HOUR_MS, zone);
  return { fromMs: fromCivil(at.year, at.month, at.day, at.hour - (at.hour % 3), zone), toMs };
}
