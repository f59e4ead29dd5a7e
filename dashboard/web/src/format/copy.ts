import type { CopyView } from '../../../../shared/schema/copy.ts';
import { spanText } from './age.ts';
import { countText } from './quantity.ts';

/** True where somebody should look at the copy: it does not go on, or lacks readings for good. */
export const copyIsIll = ({ state, dropped, refused, remarks }: CopyView): boolean =>
  state === 'paused' || state === 'waiting' || dropped + refused + remarks.length > 0;

const readings = (count: number) => `${countText(count)} ${count === 1 ? 'reading' : 'readings'}`;

/** Where the copy on the server stands: "making up: 12,000 readings still to send, the oldest 3 h old". */
export function copyText(copy: CopyView, nowMs: number): string {
  const { waiting, sinceMs, dropped, refused, refusedWhy, remarks } = copy;
  const age = sinceMs === null ? '' : `, the oldest ${spanText(nowMs - sinceMs)} old`;
  const behind = waiting === 0 ? '' : `; ${readings(waiting)} to send${age}`;
  const words = {
    starting: `nothing sent yet${behind}`,
    'up-to-date': 'up to date',
    behind: `making up: ${readings(waiting)} still to send${age}`,
    waiting: `waits, ${copy.why}${behind}`,
    paused: `paused: ${copy.why}${behind}`,
  }[copy.state];
  return [
    words,
    ...(dropped > 0 ? [`Dropped, since too many waited: ${readings(dropped)}`] : []),
    ...(refused > 0 ? [`Refused by the server: ${readings(refused)} (${refusedWhy})`] : []),
    ...remarks.map((remark) => remark.replace(/\.$/, '')),
  ].join('. ');
}
