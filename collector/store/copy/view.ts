import type { CopyView } from '../../../shared/schema/copy.ts';
import type { CopierState } from './copier.ts';
import type { OutboxFacts } from './parcels.ts';

/** Readings under way in ordinary running: a few seconds of a large rig. What waits on disk is always told. */
const MOST_AT_HAND = 5000;

const short = (text: string) => text.slice(0, 300);

/** Where the copy stands, for people. */
export function viewOf(sending: CopierState, outbox: OutboxFacts, remarks: readonly string[]): CopyView {
  const { standing, why, held, heldSinceMs, lost, diskFault } = sending;
  const isBehind = outbox.waiting > 0 || held > MOST_AT_HAND;
  return {
    state: standing === 'going' ? (isBehind ? 'behind' : 'up-to-date') : standing,
    waiting: outbox.waiting + held,
    sinceMs: outbox.sinceMs ?? heldSinceMs,
    why: short(why),
    dropped: outbox.dropped + lost,
    refused: outbox.refused,
    refusedWhy: short(outbox.refusedWhy),
    remarks: [...remarks, ...outbox.remarks, ...(diskFault === '' ? [] : [`What the server has not taken cannot be kept on the disk: ${diskFault}.`])].map(
      short,
    ),
  };
}
