/** What shows that somebody is at the device. */
const SIGNS = ['pointerdown', 'pointermove', 'wheel', 'keydown', 'input'];
/** A field or a dialog that was left open counts as left behind after this long without a touch, ms. */
const LEFT_MS = 3_600_000;

/** Knows how long nobody has touched the device. */
export class Untouched {
  #touchedMs = Number.NEGATIVE_INFINITY;
  readonly #note = () => {
    this.#touchedMs = performance.now();
  };

  /** Listens until the returned function is called. */
  start(): () => void {
    for (const sign of SIGNS) window.addEventListener(sign, this.#note, { capture: true, passive: true });
    return () => {
      for (const sign of SIGNS) window.removeEventListener(sign, this.#note, { capture: true });
    };
  }

  /** Ms since the last touch or key; infinite while the page has seen none. A sleep may not count: rather too short than too long. */
  get ms(): number {
    return performance.now() - this.#touchedMs;
  }

  /** Nobody has touched the device for `quietMs`, and nothing that somebody may come back to is open: no field under the cursor, no dialog. */
  isFor(quietMs: number): boolean {
    return this.ms >= quietMs && (this.ms >= LEFT_MS || !hasOpenWork());
  }
}

const hasOpenWork = (): boolean =>
  document.querySelector('dialog[open], [aria-modal="true"]') !== null ||
  (document.activeElement?.matches('input, select, textarea, [contenteditable="true"]') ?? false);
