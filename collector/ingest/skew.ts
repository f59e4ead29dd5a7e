const KEPT = 31;
/** A clock before the year 2000 was never set; its distance tells nothing. */
const SET_SINCE_MS = Date.UTC(2000, 0, 1);
const NOTED_MS = 120_000;

/** How far a board's clock lies from arrival, over its last 31 messages. */
export class ClockSkew {
  #differences: number[] = [];
  #next = 0;

  take(clockMs: number, arrivalMs: number): void {
    if (clockMs < SET_SINCE_MS) return;
    this.#differences[this.#next] = clockMs - arrivalMs;
    this.#next = (this.#next + 1) % KEPT;
  }

  /** Clock minus arrival, median, ms; null without a clock. */
  get medianMs(): number | null {
    if (this.#differences.length === 0) return null;
    const sorted = [...this.#differences].sort((a, b) => a - b);
    return Math.round(sorted[sorted.length >> 1] ?? 0);
  }

  /** What to tell the person; '' when the clock is near. */
  get note(): string {
    const skewMs = this.medianMs;
    if (skewMs === null || Math.abs(skewMs) <= NOTED_MS) return '';
    const minutes = Math.round(Math.abs(skewMs) / 60_000);
    const span = minutes >= 120 ? `${Math.round(minutes / 6) / 10} h` : `${minutes} min`;
    return `The board's clock is ${span} ${skewMs < 0 ? 'behind' : 'ahead'}. Let it send UTC, or its zone with the time.`;
  }
}
