/** No clock can rightly be before this program was written: 2026-11-01, epoch ms. */
export const NOT_BEFORE_MS = Date.UTC(2026, 10, 1);
