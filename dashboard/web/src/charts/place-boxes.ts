/** A rectangle, y downwards. */
export interface Box {
  readonly left: number;
  readonly top: number;
  readonly right: number;
  readonly bottom: number;
}

/** What a word must not cover, with how much each square px of it matters; other words matter most of all. */
export interface Obstacle extends Box {
  readonly weight: number;
}

/** A word's size and where it would like to stand (left and top), the best place first. `isSpare`: it is left out rather than put over anything. */
export interface Wish {
  readonly width: number;
  readonly height: number;
  readonly places: Iterable<readonly [left: number, top: number]>;
  readonly isSpare?: boolean;
}

/** A square px of another word, against one of an obstacle of weight 1. */
const WORD_WEIGHT = 1e6;
/** Words keep this much of their height apart. */
const APART = 0.2;

/**
 * Places words one after the other inside the bounds, each where it covers least; of equal places the one that it likes best. Where all that it likes cover another
 * word, it goes wherever it covers least. Null: left out.
 */
export function placeBoxes(wishes: readonly Wish[], obstacles: readonly Obstacle[], bounds: Box): (Box | null)[] {
  const taken: Obstacle[] = [...obstacles];
  return wishes.map((wish) => {
    const liked = best(wish, wish.places, taken, bounds);
    const found = wish.isSpare || (liked && liked.cost < WORD_WEIGHT) ? liked : best(wish, anywhere(wish, bounds), taken, bounds);
    if (!found || (wish.isSpare && found.cost >= 1)) return null;
    const gap = APART * wish.height;
    taken.push({ left: found.box.left - gap, top: found.box.top, right: found.box.right + gap, bottom: found.box.bottom, weight: WORD_WEIGHT });
    return found.box;
  });
}

function best({ width, height }: Wish, places: Wish['places'], obstacles: readonly Obstacle[], bounds: Box): { box: Box; cost: number } | null {
  let found: { box: Box; cost: number } | null = null;
  for (const [wantedLeft, wantedTop] of places) {
    const left = Math.max(bounds.left, Math.min(wantedLeft, bounds.right - width));
    const top = Math.max(bounds.top, Math.min(wantedTop, bounds.bottom - height));
    const box = { left, top, right: left + width, bottom: top + height };
    const cost = obstacles.reduce((sum, o) => sum + o.weight * shared(box, o), 0);
    if (!found || cost < found.cost) found = { box, cost };
  }
  return found;
}

/** Square px that two boxes share. */
const shared = (a: Box, b: Box): number =>
  Math.max(0, Math.min(a.right, b.right) - Math.max(a.left, b.left)) * Math.max(0, Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top));

/** Places all over the bounds, half a word apart. */
function* anywhere({ width, height }: Wish, bounds: Box): Generator<readonly [number, number]> {
  for (let top = bounds.bottom - height; top >= bounds.top; top -= height / 2)
    for (let left = bounds.left; left <= bounds.right - width / 2; left += width / 2) yield [left, top];
}
