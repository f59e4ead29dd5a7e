import { randomUUID } from 'node:crypto';
import { draft } from '../../engine/notify/notice.ts';
import type { Notice, OutboxEntry } from '../../shared/schema/notice.ts';
import { NOON_MS } from './notify-plan.ts';

interface Part {
  readonly id: string;
  readonly route?: string;
  readonly target?: string;
  readonly kind?: Notice['kind'];
  readonly alarmId?: string;
  readonly occurrence?: number;
  readonly priority?: Notice['priority'];
  readonly expiresMs?: number;
  /** After noon. */
  readonly atMs?: number;
}

/** A waiting entry of the outbox. */
export function entryOf({
  id,
  route = 'phones',
  target = 'x',
  kind = 'alarm',
  alarmId = 'bank-low',
  occurrence = 1,
  priority = 'high',
  atMs = 0,
  ...more
}: Part): OutboxEntry {
  const nowMs = NOON_MS + atMs;
  const what = {
    eventId: `${alarmId}-${occurrence}`,
    kind,
    priority,
    title: 'The bank',
    text: 'It is low.',
    expiresMs: more.expiresMs ?? NOON_MS + 86_400_000,
  };
  const notice = { ...draft({ ...what, alarmId, occurrence, canAcknowledge: true }, { rigName: 'Heron', nowMs, timeZone: 'Etc/UTC' }), noticeId: randomUUID() };
  return { id, route, target, targetName: target, notice, state: 'waiting', attempts: 0, nextMs: nowMs, changedMs: nowMs, reason: '', receivedMs: null };
}
