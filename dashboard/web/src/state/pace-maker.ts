/** Runs work at most once in `everyMs`: at once when quiet, else at the end of the interval, with whatever was asked meanwhile folded into one run. */
export class PaceMaker {
  readonly #everyMs: number;
  readonly #work: () => void;
  #timer: ReturnType<typeof setTimeout> | null = null;
  #asked = false;

  constructor(everyMs: number, work: () => void) {
    this.#everyMs = everyMs;
    this.#work = work;
  }

  ask(): void {
    if (this.#timer !== null) {
      this.#asked = true;
      return;
    }
    this.#timer = setTimeout(() => this.#rest(), this.#everyMs);
    this.#work();
  }

  #rest(): void {
    this.#timer = null;
    if (!this.#asked) return;
    this.#asked = false;
    this.ask();
  }
}
