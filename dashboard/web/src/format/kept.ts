import type { HealthView, NotKept } from '../../../../shared/schema/live.ts';
import { type AlarmSetting, momentText } from './alarm-words.ts';
import { NOT_KEPT_NAMES } from './not-kept.ts';
import { countText } from './quantity.ts';

const capital = (text: string) => text.charAt(0).toUpperCase() + text.slice(1);

/** "not kept since 14:02: the disk is full: free some space on it. 3,204 wait in memory, which a power cut would lose". */
function notKeptText({ sinceMs, why, waiting, lost }: NotKept, at: AlarmSetting): string {
  const waits = waiting === 0 ? '' : `. ${countText(waiting)} wait in memory, which a power cut would lose`;
  const gone = lost === 0 ? '' : `. Lost, the oldest first, since memory holds no more: ${countText(lost)}`;
  return `not kept since ${momentText(sinceMs, at)}: ${why}${waits}${gone}`;
}

/** What the store keeps, and what it does not, as lines for people. */
export function keptLines(
  { store, notKept = [], storeNote = '' }: HealthView,
  at: AlarmSetting,
): readonly { readonly name: string; readonly text: string; readonly isIll?: boolean }[] {
  const lines = notKept.map((one) => ({ name: capital(NOT_KEPT_NAMES[one.what]), text: notKeptText(one, at), isIll: true }));
  const whole = { name: 'Store', text: store === 'ok' ? 'keeps everything' : 'failing: readings may be lost', isIll: store === 'failing' };
  const note = { name: 'Store at the start', text: storeNote };
  return [...(lines.length > 0 ? lines : [whole]), ...(storeNote === '' ? [] : [note])];
}
