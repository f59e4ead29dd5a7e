import type uPlot from 'uplot';
import type { CurveMarks } from './curve-marks.ts';
import { type CurvePoint, curveWords, type Frame } from './curve-words.ts';
import { font, type Pen, text, x, y } from './pen.ts';

/** Share of a word's box, from its top, at which its letters stand. */
const BASELINE = 0.78;

/** Draws the words of a night's curve. */
export function drawWords(pen: Pen, marks: CurveMarks): void {
  const { left, top, width, height } = pen.u.bbox;
  const frame: Frame = {
    ...{ left, top, right: left + width, bottom: top + height, rem: pen.rem },
    x: (tMs) => x(pen, tMs),
    y: (pct) => y(pen, pct),
    widthOf(words, { sizeRem, weight }) {
      pen.ctx.font = font(pen, sizeRem, weight);
      return pen.ctx.measureText(words).width;
    },
  };
  for (const { text: words, look, ...box } of curveWords(marks, curvePoints(pen.u), frame))
    text(pen, words, box.left, box.top + BASELINE * (box.bottom - box.top), pen.palette[look.tone], look.sizeRem, look.weight);
}

/** The curve in device px: the columns of the past and the median with its range. */
function curvePoints(u: uPlot): CurvePoint[] {
  const [times = [], low, high, , , median, past] = u.data;
  const y = (pct: number) => u.valToPos(pct, 'y', true);
  return [...times].flatMap((t, i) => {
    const pct = past?.[i] ?? median?.[i];
    const [bottom, top] = [low?.[i], high?.[i]];
    if (pct == null) return [];
    return [{ x: u.valToPos(t, 'x', true), y: y(pct), ...(bottom != null && top != null && { range: [y(top), y(bottom)] as const }) }];
  });
}
