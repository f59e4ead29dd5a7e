import type uPlot from 'uplot';
import type { EpochMs } from '../../../../shared/units.ts';
import { toSeconds } from './columns.ts';
import type { Tones } from './night-options.ts';
import { type Pen, penOf, text } from './pen.ts';

/** An upright line through the charts of a night, with its words where there is room for them. */
export interface Upright {
  readonly tMs: EpochMs;
  readonly label: string;
}

/** The range of a low point as it was said, where it was said to be. */
export interface SaidRange {
  readonly tMs: EpochMs;
  readonly lowPct: number;
  readonly highPct: number;
  readonly middlePct: number;
}

/** What is drawn into the chart of the state of charge beside its line. */
export interface ChargeMarks {
  readonly floorPct: number | null;
  readonly said: SaidRange | null;
  readonly low: { readonly tMs: EpochMs; readonly pct: number; readonly isInside: boolean };
}

const at = ({ u }: Pen, tMs: EpochMs): number => u.valToPos(toSeconds(tMs), 'x', true);

/** Upright lines; their words only in the chart that is given room for them. */
export function drawUprights(u: uPlot, tones: Tones, uprights: readonly Upright[], withWords: boolean): void {
  const pen = penOf(u, tones);
  u.ctx.save();
  let freeFrom = u.bbox.left;
  for (const { tMs, label } of uprights) {
    const x = Math.round(at(pen, tMs));
    u.ctx.fillStyle = tones.upright;
    u.ctx.fillRect(x - pen.px / 2, u.bbox.top, pen.px, u.bbox.height);
    if (!withWords) continue;
    u.ctx.font = `500 ${0.8125 * pen.rem}px ${tones.font}`;
    const width = u.ctx.measureText(label).width;
    const right = u.bbox.left + u.bbox.width;
    // To the left of its line, else to the right of it; one that has no room is not written.
    const left = [x - 8 * pen.px - width, x + 12 * pen.px].find((from) => from >= freeFrom && from + width <= right + pen.rem);
    if (left === undefined) continue;
    text(pen, label, left, u.bbox.top + u.bbox.height - 0.5 * pen.rem, tones.soft, 0.8125, 500);
    freeFrom = left + width + 8 * pen.px;
  }
  u.ctx.restore();
}

/** The moment that is looked at: an upright line, and dots where it meets lines, in the chart's own values. */
export function drawScrub(u: uPlot, tones: Tones, tMs: EpochMs, values: readonly (number | null | undefined)[]): void {
  const pen = penOf(u, tones);
  const x = Math.round(at(pen, tMs));
  u.ctx.save();
  u.ctx.fillStyle = tones.ink;
  u.ctx.fillRect(x - pen.px, u.bbox.top, 2 * pen.px, u.bbox.height);
  for (const value of values) if (value !== null && value !== undefined) disc(pen, x, u.valToPos(value, 'y', true), 5, tones.ink);
  u.ctx.restore();
}

/** The floor with its words, the range that was said of the low point, and the low point itself: a ring, hollow where it lies outside. */
export function drawCharge(u: uPlot, tones: Tones, { floorPct, said, low }: ChargeMarks): void {
  const pen = penOf(u, tones);
  const { ctx } = u;
  const y = (pct: number) => u.valToPos(pct, 'y', true);
  ctx.save();
  if (said) {
    const width = 12 * pen.px;
    const x = at(pen, said.tMs) - width / 2;
    ctx.fillStyle = tones.rangeNarrow;
    ctx.beginPath();
    ctx.roundRect(x, y(said.highPct), width, Math.max(2 * pen.px, y(said.lowPct) - y(said.highPct)), 3 * pen.px);
    ctx.fill();
    ctx.fillStyle = tones.bank;
    ctx.fillRect(x, y(said.middlePct) - pen.px, width, 2 * pen.px);
  }
  if (floorPct !== null) {
    ctx.strokeStyle = tones.floor;
    ctx.lineWidth = 2 * pen.px;
    ctx.setLineDash([2 * pen.px, 4 * pen.px]);
    ctx.beginPath();
    ctx.moveTo(u.bbox.left, y(floorPct));
    ctx.lineTo(u.bbox.left + u.bbox.width, y(floorPct));
    ctx.stroke();
    ctx.setLineDash([]);
    text(pen, `floor ${Math.round(floorPct)} %`, u.bbox.left + 6 * pen.px, y(floorPct) - 7 * pen.px, tones.floor, 0.8125, 500);
  }
  disc(pen, at(pen, low.tMs), y(low.pct), 5, low.isInside ? tones.bank : tones.sheet);
  ctx.strokeStyle = tones.bank;
  ctx.lineWidth = 2.25 * pen.px;
  ctx.stroke();
  ctx.restore();
}

function disc({ ctx, px }: Pen, x: number, y: number, radiusPx: number, fill: string): void {
  ctx.beginPath();
  ctx.arc(x, y, radiusPx * px, 0, 2 * Math.PI);
  ctx.fillStyle = fill;
  ctx.fill();
}
