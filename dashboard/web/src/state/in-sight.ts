/** Something done for elements while they can be seen. One observer looks after all of them. */
export class InSight {
  readonly #begins = new Map<Element, () => () => void>();
  readonly #ends = new Map<Element, () => void>();
  readonly #observer = new IntersectionObserver((entries) => {
    for (const { target, isIntersecting } of entries) {
      this.#leave(target);
      const begin = this.#begins.get(target);
      if (isIntersecting && begin) this.#ends.set(target, begin());
    }
  });

  /** An attachment of an element: `begin` is called when it comes into sight, what that gives back when it has left the sight or the page. */
  while(begin: () => () => void): (element: Element) => () => void {
    return (element) => {
      this.#begins.set(element, begin);
      this.#observer.observe(element);
      return () => {
        this.#observer.unobserve(element);
        this.#begins.delete(element);
        this.#leave(element);
      };
    };
  }

  #leave(element: Element): void {
    this.#ends.get(element)?.();
    this.#ends.delete(element);
  }
}
