/** No clock can rightly be before this program was written: 2026-11-01, epoch ms. */
export const NOT_BEFORE_MS = Date.UTC(2026, 10, 1);
/**
 * Nor is one that somebody tells so far after it, epoch ms: 1,024 weeks. @source IS-GPS-200: the week number has 10 bits, so that a receiver
 * that counts them wrongly is off by a multiple of this
 */
export const NOT_AFTER_MS = NOT_BEFORE_MS + 1024 * 7 * 86_400_000;
