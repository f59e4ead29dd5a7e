import type uPlot from 'uplot';
import { toSeconds } from './columns.ts';
import type { CurveMarks } from './curve-marks.ts';
import { footOrHead, placeLabels } from './labels.ts';
import { font, type Pen, text, x } from './pen.ts';

/** Height of a row of words, rem. */
const ROW_REM = 1.25;
/** More rows would reach into the curve. */
const MOST_ROWS = 2;

interface Word {
  readonly tMs: number;
  readonly label: string;
  readonly side: 'left' | 'right' | 'at';
}

/** Draws the words of the surplus over the time axis, and those of the uprights there too, or under the sky where the curve is in the way. */
export function drawFootLabels(pen: Pen, marks: CurveMarks): void {
  const { ctx, u, rem, palette } = pen;
  ctx.font = font(pen, 0.8125, 500);
  const { uprights, surplus, surplusLabel } = marks;
  const { left, top, width, height } = u.bbox;
  const placed = (list: readonly Word[]) => {
    const wishes = list.map(({ tMs, label, side }) => ({ x: x(pen, tMs), width: ctx.measureText(label).width, side }));
    return { wishes, places: placeLabels(wishes, left, left + width + ROW_REM * rem, x(pen, marks.now.tMs)) };
  };
  const beside = uprights.map(({ tMs, label }, i): Word => ({ tMs, label, side: i < uprights.length - 1 ? 'left' : 'right' }));
  const wanted = surplusLabel ? surplus.slice(0, 1).map((run): Word => ({ tMs: run.fromMs, label: surplusLabel, side: 'at' })) : [];
  // Where it is narrow, what was yesterday's gives way to what is ahead.
  const unused = placed([...wanted, ...beside]).places.some((place) => place.row >= MOST_ROWS) ? [] : wanted;
  const words = [...unused, ...beside];
  const { wishes, places } = placed(words);
  const boxes = places.map((place, i) => ({ ...place, right: place.left + (wishes[i]?.width ?? 0) })).slice(unused.length);
  const rows = Math.max(0, ...boxes.map((box) => box.row + 1));
  const inTheWay = boxes.flatMap((box) => [...curveBetween(u, box.left, box.right), ...nowLabel(pen, marks, box.left, box.right)]);
  const isAtFoot = footOrHead(inTheWay, ((rows + 0.4) * ROW_REM * rem * 100) / height) === 'foot';
  words.forEach(({ label, side }, i) => {
    const place = places[i];
    if (!place) return;
    const isBelow = isAtFoot || side === 'at';
    const baseline = isBelow ? top + height - (0.85 + ROW_REM * place.row) * rem : top + (1.1 + ROW_REM * (rows - 1 - place.row)) * rem;
    text(pen, label, place.left, baseline, palette.soft, 0.8125, 500);
  });
}

/** Percentages of the curve between two positions: the columns of the median and the past. */
export function curveBetween(u: uPlot, fromX: number, toX: number): number[] {
  const [times = [], , , , , median, past] = u.data;
  const isBetween = (t: number) => u.valToPos(t, 'x', true) >= fromX && u.valToPos(t, 'x', true) <= toX;
  return [...times].flatMap((t, i) => (isBetween(t) ? [median?.[i], past?.[i]].filter((pct) => typeof pct === 'number') : []));
}

/** Percentages that the words at now take up, when they stand between two positions. */
function nowLabel({ ctx, u, rem }: Pen, { now }: CurveMarks, fromX: number, toX: number): number[] {
  if (now.pct === null) return [];
  const at = u.valToPos(toSeconds(now.tMs), 'x', true);
  const reach = ctx.measureText(now.label).width * 1.3 + rem;
  const highPct = (2.4 * rem * 100) / u.bbox.height;
  return fromX < at + reach && toX > at - reach ? [now.pct - highPct, now.pct + highPct] : [];
}
