/** What ends the parts of something, the newest first. */
export class Undo {
  #steps: (() => unknown)[] = [];

  /** Takes what ends a part that has just begun. */
  with(step: () => unknown): void {
    this.#steps.push(step);
  }

  /** Ends all of it, after `first`; one that fails holds up none of the others. Rejects with the first failure. */
  async all(first: () => unknown): Promise<void> {
    const steps = [...this.#steps.splice(0), first].reverse();
    const failures: unknown[] = [];
    for (const step of steps) {
      try {
        await step();
      } catch (error) {
        failures.push(error);
      }
    }
    if (failures.length > 0) throw failures[0];
  }
}
