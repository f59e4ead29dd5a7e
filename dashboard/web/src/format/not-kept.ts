import type { NotKept } from '../../../../shared/schema/live.ts';
import { spanText } from './age.ts';

/** What cannot be kept, as people call it. */
export const NOT_KEPT_NAMES = { readings: 'readings', documents: 'nights and alarms' } as const;

/** For a line: "readings and nights and alarms not kept for 3 h"; '' while everything is. */
export function notKeptBrief(notKept: readonly NotKept[], nowMs: number): string {
  const [first] = notKept;
  if (!first) return '';
  const sinceMs = Math.min(...notKept.map((one) => one.sinceMs));
  const what = notKept.length > 1 ? 'nothing' : `${NOT_KEPT_NAMES[first.what]} not`;
  return `${what} kept for ${spanText(nowMs - sinceMs)}`;
}
