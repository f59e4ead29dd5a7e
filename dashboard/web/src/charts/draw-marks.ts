import type uPlot from 'uplot';
import type { CurveMarks, Moment } from './curve-marks.ts';
import { drawGhost } from './draw-ghost.ts';
import { drawWords } from './draw-words.ts';
import type { Palette } from './palette.ts';
import { type Pen, penOf, x, y } from './pen.ts';

/** Draws the sky over the plot and everything that lies behind the curve. */
export function drawBehind(u: uPlot, marks: CurveMarks, palette: Palette): void {
  const pen = penOf(u, palette);
  u.ctx.save();
  drawSky(pen, marks);
  drawSurplus(pen, marks);
  for (const upright of marks.uprights) line(pen, upright.tMs, palette.upright, 1);
  line(pen, marks.now.tMs, palette.ink, 1.5);
  u.ctx.restore();
}

/** Draws what lies over the curve: floor, rings, now and words. */
export function drawOver(u: uPlot, marks: CurveMarks, palette: Palette): void {
  const pen = penOf(u, palette);
  // The library remembers what it has set on the canvas.
  u.ctx.save();
  drawFloor(pen, marks.floorPct);
  drawGhost(pen, marks.ghost ?? []);
  for (const upright of marks.uprights) ring(pen, upright);
  if (marks.low) ring(pen, marks.low);
  dot(pen, marks.now, palette.bank);
  drawWords(pen, marks);
  if (marks.scrub) {
    line(pen, marks.scrub.tMs, palette.ink, 2);
    dot(pen, marks.scrub, palette.ink);
  }
  u.ctx.restore();
}

function line(pen: Pen, tMs: number, color: string, widthPx: number): void {
  const { ctx, u, px } = pen;
  const at = Math.round(x(pen, tMs));
  ctx.fillStyle = color;
  ctx.fillRect(at - (widthPx * px) / 2, u.bbox.top - 0.5 * pen.rem, widthPx * px, u.bbox.height + 0.5 * pen.rem);
}

function drawSky(pen: Pen, { sky, window }: CurveMarks): void {
  const { ctx, u, px, palette } = pen;
  if (sky.length < 2) return;
  const { left, top, width } = u.bbox;
  const gradient = ctx.createLinearGradient(left, 0, left + width, 0);
  const span = window.toMs - window.fromMs;
  for (const stop of sky) gradient.addColorStop(Math.min(1, Math.max(0, (stop.tMs - window.fromMs) / span)), palette.sky[stop.tone]);
  ctx.fillStyle = gradient;
  ctx.beginPath();
  ctx.roundRect(left, top - 1.2 * pen.rem, width, 0.4 * pen.rem, 3 * px);
  ctx.fill();
}

function drawSurplus(pen: Pen, { surplus }: CurveMarks): void {
  const { ctx, u, px, palette } = pen;
  const { left, top, width, height } = u.bbox;
  ctx.fillStyle = palette.surplus;
  for (const run of surplus) {
    const from = Math.max(left, x(pen, run.fromMs));
    ctx.beginPath();
    ctx.roundRect(from, top + height - 7 * px, Math.max(2 * px, Math.min(left + width, x(pen, run.toMs)) - from), 5 * px, 2 * px);
    ctx.fill();
  }
}

function drawFloor(pen: Pen, floorPct: number | null): void {
  if (floorPct === null) return;
  const { ctx, u, px, palette } = pen;
  const at = y(pen, floorPct);
  ctx.strokeStyle = palette.floor;
  ctx.lineWidth = 2 * px;
  ctx.setLineDash([2 * px, 4 * px]);
  ctx.beginPath();
  ctx.moveTo(u.bbox.left, at);
  ctx.lineTo(u.bbox.left + u.bbox.width, at);
  ctx.stroke();
  ctx.setLineDash([]);
}

function ring(pen: Pen, moment: Moment): void {
  if (moment.pct === null) return;
  circle(pen, moment.tMs, moment.pct, 4.5, pen.palette.sheet);
  pen.ctx.strokeStyle = pen.palette.bank;
  pen.ctx.lineWidth = 2.25 * pen.px;
  pen.ctx.stroke();
}

function dot(pen: Pen, moment: Moment, color: string): void {
  if (moment.pct !== null) circle(pen, moment.tMs, moment.pct, 6, color);
}

function circle(pen: Pen, tMs: number, pct: number, radiusPx: number, fill: string): void {
  const { ctx, px } = pen;
  ctx.beginPath();
  ctx.arc(x(pen, tMs), y(pen, pct), radiusPx * px, 0, 2 * Math.PI);
  ctx.fillStyle = fill;
  ctx.fill();
}
