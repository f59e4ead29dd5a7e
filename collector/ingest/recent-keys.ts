/** How many messages back a resent one is recognised. */
const REMEMBERED = 64;

/**
 * Recognises a message that was delivered again: same sequence (or, without one, same device time) and same number as one of the last 64.
 * Equal numbers alone are no repetition, nor is a counter that starts anew after a restart with other numbers. The DUP flag is never looked at: it may
 * stand on the only copy.
 */
export class RecentKeys {
  #values = new Map<number | string, number>();

  /** True when seen before; remembers it otherwise. */
  repeats(key: number | string, raw: number): boolean {
    if (this.#values.get(key) === raw) return true;
    this.#values.delete(key);
    this.#values.set(key, raw);
    if (this.#values.size > REMEMBERED) {
      for (const oldest of this.#values.keys()) {
        this.#values.delete(oldest);
        break;
      }
    }
    return false;
  }
}
