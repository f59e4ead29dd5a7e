import type { Outbox } from '../../engine/notify/outbox.ts';
import { initialPlan, type NotifyPlan } from '../../engine/notify/plan.ts';
import { initialReach, type ReachState } from '../../engine/notify/reach.ts';
import type { DocumentStore, EngineTime } from '../../shared/ports.ts';
import { OutboxEntry } from '../../shared/schema/notice.ts';
import type { EpochMs } from '../../shared/units.ts';

/** What an earlier run left of its notices. */
export interface Notified {
  readonly plan: NotifyPlan;
  readonly outbox: Outbox;
  readonly reach: ReachState;
  /** What is done once a day, with the last occasion on which it was. */
  readonly done: Readonly<Record<string, string>>;
}

/** A document as the store takes it. */
export interface Document {
  readonly kind: string;
  readonly id: string;
  readonly tMs: EpochMs;
  readonly body: string;
}

export const NOTIFY_KIND = 'notify';
export const OUTBOX_KIND = 'outbox';

export const documentOf = (kind: string, id: string, tMs: EpochMs, body: unknown): Document => ({ kind, id, tMs, body: JSON.stringify(body) });
export const entryDocument = (entry: OutboxEntry): Document => documentOf(OUTBOX_KIND, entry.id, entry.changedMs, entry);

/** Reads what was kept; what cannot be read counts as never having been. */
export async function loadNotified(store: Pick<DocumentStore, 'get' | 'list'>, time: EngineTime): Promise<Notified> {
  const [plan, reach, done] = await Promise.all(['plan', 'reach', 'done'].map((id) => store.get(NOTIFY_KIND, id)));
  // By any clock: what was kept under one that ran ahead still counts.
  const rows = await store.list(OUTBOX_KIND, 0, Number.MAX_SAFE_INTEGER);
  const outbox = rows.flatMap(({ body }) => {
    const parsed = OutboxEntry.safeParse(jsonOf(body));
    return parsed.success ? [parsed.data] : [];
  });
  return {
    plan: versioned<NotifyPlan>(plan) ?? initialPlan(time),
    reach: versioned<ReachState>(reach) ?? initialReach(),
    done: (jsonOf(done ?? null) as Record<string, string> | null) ?? {},
    outbox,
  };
}

const jsonOf = (body: string | null): unknown => {
  try {
    return body === null ? null : JSON.parse(body);
  } catch {
    return null;
  }
};
const versioned = <T extends { version: number }>(body: string | null | undefined): T | null => {
  const found = jsonOf(body ?? null) as T | null;
  return found?.version === 1 ? found : null;
};
