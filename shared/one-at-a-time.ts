/** Does one piece of work after the other, in the order of asking; a failure does not stop the next one. */
export class OneAtATime {
  #last: Promise<unknown> = Promise.resolve();

  /** Does the work when all that was asked before is over; resolves or rejects as the work does. */
  take<T>(work: () => Promise<T>): Promise<T> {
    const turn = this.#last.then(work);
    this.#last = turn.catch(() => undefined);
    return turn;
  }
}
