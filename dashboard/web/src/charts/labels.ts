/** A label that belongs to an upright line at `x`, `width` px wide. */
export interface LabelWish { readonly x: number; readonly width: number; readonly side: 'left' | 'right' }

/** Where it goes: its left edge and its row, 0 nearest to the axis. */
export interface LabelPlace { readonly left: number; readonly row: number }

const PAD = 8;

/**
 * Places labels beside their lines inside [left, right]: on the wished side when it fits, else on the other, else pushed inside; a label that would cover an
 * earlier one or the line of another goes a row higher.
 */
export function placeLabels(wishes: readonly LabelWish[], left: number, right: number): LabelPlace[] {
  const placed: { from: number; to: number; row: number }[] = [];
  return wishes.map(({ x, width, side }) => {
    const leftOf = x - PAD - width;
    const rightOf = x + PAD;
    const fitsLeft = leftOf >= left;
    const fitsRight = rightOf + width <= right;
    const wished = side === 'left' ? (fitsLeft || !fitsRight ? leftOf : rightOf) : fitsRight || !fitsLeft ? rightOf : leftOf;
    const from = Math.max(left, Math.min(wished, right - width));
    const to = from + width;
    let row = 0;
    while (placed.some((p) => p.row === row && from < p.to + PAD && to + PAD > p.from)) row += 1;
    placed.push({ from, to, row });
    return { left: from, row };
  });
}
