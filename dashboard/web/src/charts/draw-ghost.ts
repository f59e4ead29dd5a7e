import type { SocPoint } from './columns.ts';
import { type Pen, x, y } from './pen.ts';

/** Draws the curve as a load that is thought about would make it: dashed, in ink, with a square at its end, so that it is told from the curve without colour. */
export function drawGhost(pen: Pen, ghost: readonly SocPoint[]): void {
  const { ctx, px, palette } = pen;
  const points = ghost.flatMap(({ tMs, socPct }) => (socPct === null ? [] : [{ left: x(pen, tMs), top: y(pen, socPct) }]));
  const last = points.at(-1);
  if (!last) return;
  ctx.strokeStyle = palette.ink;
  ctx.lineWidth = 2 * px;
  ctx.setLineDash([7 * px, 4 * px]);
  ctx.beginPath();
  for (const { left, top } of points) ctx.lineTo(left, top);
  ctx.stroke();
  ctx.setLineDash([]);
  ctx.fillStyle = palette.ink;
  ctx.fillRect(last.left - 4 * px, last.top - 4 * px, 8 * px, 8 * px);
}
