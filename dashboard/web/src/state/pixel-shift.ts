/** The page stays this long where it is, ms. */
const STAY_MS = 180_000;

/** Left and up alone, since what leaves there makes no scroll bar; each place one pixel beside the one before, and the last beside the first. */
const PATH = [
  [0, 0],
  [-1, 0],
  [-2, 0],
  [-2, -1],
  [-2, -2],
  [-1, -2],
  [0, -2],
  [0, -1],
] as const;

/** Where the page stands after so many steps, CSS pixels. */
export const shiftAt = (step: number): readonly [number, number] => PATH[step % PATH.length] ?? PATH[0];

/**
 * Moves the page by a pixel every few minutes, so that no edge burns into a screen that shows the same for weeks. Also under reduced motion: a step is one
 * pixel at once, nothing glides, and it is only made where nobody has touched the page for a minute.
 */
export class PixelShift {
  #step = 0;
  #movedMs = performance.now();

  /** Makes the next step when it is due. */
  move(page: { readonly style: { translate: string } }): void {
    if (performance.now() - this.#movedMs < STAY_MS) return;
    this.#movedMs = performance.now();
    this.#step += 1;
    const [x, y] = shiftAt(this.#step);
    page.style.translate = `${x}px ${y}px`;
  }
}
