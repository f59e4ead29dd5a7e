import type { DocumentStore } from '../../shared/ports.ts';
import type { EpochMs } from '../../shared/units.ts';
import type { Document } from './notified.ts';

const KIND = 'sure-time';

/** That a rig has run by a sure clock up to a time; there is one, the last that was kept. */
export const sureTime = (rigId: string, tMs: EpochMs): Document => ({ kind: KIND, id: rigId, tMs, body: JSON.stringify(tMs) });

/** Up to when a rig has run by a sure clock, so that what is kept of later is no measure of the time; null: nobody knows. */
export async function sureUntil(store: Pick<DocumentStore, 'get'>, rigId: string): Promise<EpochMs | null> {
  const tMs: unknown = JSON.parse((await store.get(KIND, rigId)) ?? 'null');
  return Number.isSafeInteger(tMs) ? (tMs as EpochMs) : null;
}
