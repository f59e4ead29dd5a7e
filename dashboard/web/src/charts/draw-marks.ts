import type uPlot from 'uplot';
import { toSeconds } from './columns.ts';
import type { CurveMarks, Moment } from './curve-marks.ts';
import { placeLabels } from './labels.ts';
import type { Palette } from './palette.ts';

/** The canvas with what every mark needs: positions in device px and the size of one CSS px at the common text size. */
interface Pen {
  readonly ctx: CanvasRenderingContext2D;
  readonly u: uPlot;
  readonly px: number;
  readonly rem: number;
  readonly palette: Palette;
}

/** Under this the curve comes into the labels over the time axis, percent. */
const LOW_PCT = 38;
const NARROW_REM = 30;

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

/** Draws what lies over the curve: floor, now, rings and words. */
export function drawOver(u: uPlot, marks: CurveMarks, palette: Palette): void {
  const pen = penOf(u, palette);
  // The library remembers what it has set on the canvas.
  u.ctx.save();
  drawFloor(pen, marks.floorPct);
  drawFootLabels(pen, marks);
  for (const upright of marks.uprights) ring(pen, upright);
  if (marks.low) ring(pen, marks.low);
  drawNow(pen, marks.now);
  if (marks.scrub) {
    line(pen, marks.scrub.tMs, palette.ink, 2);
    dot(pen, marks.scrub, palette.ink);
  }
  u.ctx.restore();
}

const penOf = (u: uPlot, palette: Palette): Pen => ({
  ctx: u.ctx,
  u,
  px: (devicePixelRatio * palette.remPx) / 16,
  rem: palette.remPx * devicePixelRatio,
  palette,
});
const x = ({ u }: Pen, tMs: number): number => u.valToPos(toSeconds(tMs), 'x', true);
const y = ({ u }: Pen, pct: number): number => u.valToPos(pct, 'y', true);

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
  text(pen, `floor ${Math.round(floorPct)} %`, u.bbox.left + 6 * px, at - 7 * px, palette.floor, 0.8125, 500);
}

/** Words of the surplus and the uprights, in rows. */
function drawFootLabels(pen: Pen, { uprights, surplus, surplusLabel }: CurveMarks): void {
  const { ctx, u, rem, palette } = pen;
  ctx.font = font(pen, 0.8125, 500);
  const unused = surplusLabel ? surplus.slice(0, 1).map((run) => ({ tMs: run.fromMs, label: surplusLabel, side: 'at' as const })) : [];
  const words = [...unused, ...uprights.map(({ tMs, label }, i) => ({ tMs, label, side: i < uprights.length - 1 ? ('left' as const) : ('right' as const) }))];
  const wishes = words.map(({ tMs, label, side }) => ({ x: x(pen, tMs), width: ctx.measureText(label).width, side }));
  const places = placeLabels(wishes, u.bbox.left, u.bbox.left + u.bbox.width + 1.25 * rem);
  const { top, height, width } = u.bbox;
  // Where the curve comes down to the axis its labels move up under the sky; on a narrow chart a row lower, clear of the words at now.
  const isLow = uprights.some(({ pct }) => pct !== null && pct < LOW_PCT);
  const firstRow = width < NARROW_REM * rem ? 1 : 0;
  words.forEach(({ label, side }, i) => {
    const place = places[i];
    if (!place) return;
    const baseline = isLow && side !== 'at' ? top + (1.1 + 1.25 * (place.row + firstRow)) * rem : top + height - (0.85 + 1.25 * place.row) * rem;
    text(pen, label, place.left, baseline, palette.soft, 0.8125, 500);
  });
}

function drawNow(pen: Pen, now: CurveMarks['now']): void {
  const { ctx, u, rem, palette } = pen;
  if (now.pct === null) return;
  dot(pen, now, palette.bank);
  ctx.font = font(pen, 0.9375, 650);
  const width = ctx.measureText(now.label).width;
  const at = x(pen, now.tMs);
  const dotY = y(pen, now.pct);
  const isLeft = at - u.bbox.left > width + rem;
  const hasRoomAbove = dotY - u.bbox.top > 1.6 * rem;
  const isAbove = hasRoomAbove && (isLeft ? now.isRising : true);
  text(pen, now.label, isLeft ? at - width - 0.6 * rem : at + 0.7 * rem, dotY + (isAbove ? -0.7 : isLeft ? 1.5 : 2.4) * rem, palette.ink, 0.9375, 650);
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

const font = (pen: Pen, sizeRem: number, weight: number): string => `${weight} ${sizeRem * pen.rem}px ${pen.palette.font}`;

/** Words with a halo of the sheet's colour, so that they stay readable where they cross a line. */
function text(pen: Pen, words: string, left: number, baseline: number, color: string, sizeRem: number, weight: number): void {
  const { ctx, px, palette } = pen;
  ctx.font = font(pen, sizeRem, weight);
  ctx.textAlign = 'left';
  ctx.textBaseline = 'alphabetic';
  ctx.lineJoin = 'round';
  ctx.lineWidth = 4 * px;
  ctx.strokeStyle = palette.sheet;
  ctx.strokeText(words, left, baseline);
  ctx.fillStyle = color;
  ctx.fillText(words, left, baseline);
}
