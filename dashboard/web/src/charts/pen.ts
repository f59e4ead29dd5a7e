import type uPlot from 'uplot';
import { toSeconds } from './columns.ts';
import type { Palette } from './palette.ts';

/** The canvas with what every mark needs: positions in device px and the size of one CSS px at the common text size. */
export interface Pen {
  readonly ctx: CanvasRenderingContext2D;
  readonly u: uPlot;
  readonly px: number;
  readonly rem: number;
  readonly palette: Palette;
}

/** The pen for a chart. */
export const penOf = (u: uPlot, palette: Palette): Pen => ({
  ctx: u.ctx,
  u,
  px: (devicePixelRatio * palette.remPx) / 16,
  rem: palette.remPx * devicePixelRatio,
  palette,
});
/** Device px of a moment. */
export const x = ({ u }: Pen, tMs: number): number => u.valToPos(toSeconds(tMs), 'x', true);
/** Device px of a percentage. */
export const y = ({ u }: Pen, pct: number): number => u.valToPos(pct, 'y', true);

/** The canvas font of a size. */
export const font = (pen: Pen, sizeRem: number, weight: number): string => `${weight} ${sizeRem * pen.rem}px ${pen.palette.font}`;

/** Words with a halo of the sheet's colour, so that they stay readable where they cross a line. */
export function text(pen: Pen, words: string, left: number, baseline: number, color: string, sizeRem: number, weight: number): void {
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
