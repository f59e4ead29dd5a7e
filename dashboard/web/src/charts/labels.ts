/** A label that belongs at `x`, `width` px wide: beside an upright line there, or starting `at` it. */
export interface LabelWish {
  readonly x: number;
  readonly width: number;
  readonly side: 'left' | 'right' | 'at';
}

/** Where it goes: its left edge and its row, 0 nearest to the axis. */
export interface LabelPlace {
  readonly left: number;
  readonly row: number;
}

const PAD = 8;

/**
 * Places labels inside [left, right]: on the wished side of their line, else on the other, else pushed inside. Where that would lie across the upright at `barX`, the
 * nearest place that does not, if there is one. A label that would cover an earlier one goes a row higher.
 */
export function placeLabels(wishes: readonly LabelWish[], left: number, right: number, barX: number | null = null): LabelPlace[] {
  const placed: { from: number; to: number; row: number }[] = [];
  return wishes.map((wish) => {
    const from = startOf(wish, left, right, barX);
    const to = from + wish.width;
    let row = 0;
    while (placed.some((p) => p.row === row && from < p.to + PAD && to + PAD > p.from)) row += 1;
    placed.push({ from, to, row });
    return { left: from, row };
  });
}

function startOf({ x, width, side }: LabelWish, left: number, right: number, barX: number | null): number {
  const [before, after] = [x - PAD - width, x + PAD];
  const wishes = side === 'at' ? [x] : side === 'left' ? [before, after] : [after, before];
  const isInside = (from: number) => from >= left && from + width <= right;
  const isFree = (from: number) => barX === null || from + width < barX || from > barX;
  const pushed = Math.max(left, Math.min(wishes.find(isInside) ?? wishes[0] ?? x, right - width));
  const others = [left, right - width, ...(barX === null ? [] : [barX - PAD - width, barX + PAD])].sort((a, b) => Math.abs(a - pushed) - Math.abs(b - pushed));
  return [...wishes, pushed, ...others].find((from) => isInside(from) && isFree(from)) ?? pushed;
}

/**
 * Whether labels stand at the foot of the plot or at its head: at the foot when everything in their way (percent of the height) stays above it, else at the head when
 * everything stays below that, else where more room is. `needPct`: the height that they take.
 */
export function footOrHead(inTheWay: readonly number[], needPct: number): 'foot' | 'head' {
  const roomBelow = Math.min(100, ...inTheWay);
  const roomAbove = 100 - Math.max(0, ...inTheWay);
  return roomBelow >= needPct || roomBelow >= roomAbove ? 'foot' : 'head';
}
