import type uPlot from 'uplot';
import type { Span } from './night-window.ts';
import type { Palette } from './palette.ts';
import { font, type Pen, penOf, text, x, y } from './pen.ts';

/** A load named in the chart; `topW` is how high all that draws reaches there. */
export interface NamedLoad extends Span {
  readonly name: string;
  readonly topW: number;
}

/** What is drawn over the chart of what draws and gives. */
export interface LoadMarks {
  readonly nowMs: number;
  readonly scrubMs: number | null;
  readonly planned: readonly NamedLoad[];
  /** A load that is thought about; it stands on all that draws there. */
  readonly ghost: (NamedLoad & { readonly powerW: number }) | null;
}

export function drawLoadMarks(u: uPlot, marks: LoadMarks, palette: Palette): void {
  const pen = penOf(u, palette);
  u.ctx.save();
  upright(pen, marks.nowMs, palette.ink, 1.5);
  if (marks.ghost) drawBlock(pen, marks.ghost);
  let freeFrom = Number.NEGATIVE_INFINITY;
  for (const load of [...marks.planned, ...(marks.ghost ? [{ ...marks.ghost, topW: marks.ghost.topW + marks.ghost.powerW }] : [])].sort(
    (a, b) => a.fromMs - b.fromMs,
  ))
    freeFrom = drawName(pen, load, freeFrom);
  if (marks.scrubMs !== null) upright(pen, marks.scrubMs, palette.ink, 2);
  u.ctx.restore();
}

function upright(pen: Pen, tMs: number, color: string, widthPx: number): void {
  const { ctx, u, px } = pen;
  const at = Math.round(x(pen, tMs));
  if (at < u.bbox.left || at > u.bbox.left + u.bbox.width) return;
  ctx.fillStyle = color;
  ctx.fillRect(at - (widthPx * px) / 2, u.bbox.top - 0.5 * pen.rem, widthPx * px, u.bbox.height + 0.5 * pen.rem);
}

function drawBlock(pen: Pen, { fromMs, toMs, topW, powerW }: NonNullable<LoadMarks['ghost']>): void {
  const { ctx, u, px, palette } = pen;
  const left = Math.max(u.bbox.left, x(pen, fromMs));
  const width = Math.max(3 * px, Math.min(u.bbox.left + u.bbox.width, x(pen, toMs)) - left);
  const top = Math.max(u.bbox.top, y(pen, topW + powerW));
  ctx.strokeStyle = palette.ink;
  ctx.lineWidth = 1.5 * px;
  ctx.setLineDash([4 * px, 3 * px]);
  ctx.strokeRect(left, top, width, y(pen, topW) - top);
  ctx.setLineDash([]);
}

/** Draws a name right of its load, or left of it where it would run out or cover the one before; leaves it out where neither goes. Returns where the next may begin. */
function drawName(pen: Pen, { name, fromMs, toMs, topW }: NamedLoad, freeFrom: number): number {
  const { ctx, u, px, rem, palette } = pen;
  const { left, top, width } = u.bbox;
  if (x(pen, toMs) < left || x(pen, fromMs) > left + width) return freeFrom;
  ctx.font = font(pen, 0.8125, 500);
  const words = name.length > 18 ? `${name.slice(0, 17)}…` : name;
  const wide = ctx.measureText(words).width;
  const right = x(pen, toMs) + 5 * px;
  const at = [right, x(pen, fromMs) - wide - 5 * px].find((from) => from >= Math.max(left, freeFrom) && from + wide <= left + width + rem);
  if (at === undefined) return freeFrom;
  text(pen, words, at, Math.max(top + 0.8 * rem, y(pen, topW) + 0.9 * rem), palette.ink, 0.8125, 500);
  return at + wide + 8 * px;
}
