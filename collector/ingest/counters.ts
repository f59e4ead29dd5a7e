import type { SensorsReport } from '../../shared/schema/api.ts';
import type { RejectReason, Remark } from '../../shared/schema/reading.ts';
import { printablePayload } from '../mqtt/printable.ts';

/** As much of a payload as its preview can need, bytes. */
const KEPT_BYTES = 800;

type SignalReport = SensorsReport['signals'][number];

/** A copy of the head of a payload; the original may be a slice of a socket's whole chunk and would keep it alive. Not `payload.slice`: that of a Buffer copies nothing. */
const keepHead = (payload: Uint8Array): Uint8Array => Uint8Array.prototype.slice.call(payload, 0, KEPT_BYTES);

/** What became of a signal's messages since the start. */
export class SignalCounters {
  received = 0;
  rejectedTotal = 0;
  #rejected = new Map<RejectReason, { count: number; lastMs: number; head: Uint8Array }>();
  #remarks = new Map<Remark, { count: number; lastMs: number }>();

  reset(): void {
    this.received = 0;
    this.rejectedTotal = 0;
    this.#rejected.clear();
    this.#remarks.clear();
  }

  reject(reason: RejectReason, tMs: number, payload: Uint8Array): void {
    this.rejectedTotal++;
    const entry = this.#rejected.get(reason);
    this.#rejected.set(reason, { count: (entry?.count ?? 0) + 1, lastMs: tMs, head: keepHead(payload) });
  }

  remark(remark: Remark, tMs: number): void {
    const entry = this.#remarks.get(remark);
    this.#remarks.set(remark, { count: (entry?.count ?? 0) + 1, lastMs: tMs });
  }

  report(): Pick<SignalReport, 'rejected' | 'remarks'> {
    return {
      rejected: [...this.#rejected].map(([reason, { count, lastMs, head }]) => ({ reason, count, lastMs, lastPayload: printablePayload(head) })),
      remarks: [...this.#remarks].map(([remark, { count, lastMs }]) => ({ remark, count, lastMs })),
    };
  }
}

/** What became of all messages since the start. */
export class HealthCounters {
  messages = 0;
  readings = 0;
  rejected = 0;
  lastMessageMs: number | null = null;
  readonly rejectedByReason = new Map<RejectReason, number>();

  /** The time of the last message stays: it was heard. */
  reset(): void {
    this.messages = 0;
    this.readings = 0;
    this.rejected = 0;
    this.rejectedByReason.clear();
  }

  reject(reason: RejectReason): void {
    this.rejected++;
    this.rejectedByReason.set(reason, (this.rejectedByReason.get(reason) ?? 0) + 1);
  }
}
