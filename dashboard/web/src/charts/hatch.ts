/** Stripes of a group's line on its fill, for areas that colour alone does not tell apart; `px` is one CSS px in device px. The fill alone where no picture can be made. */
export function hatch({ line, fill }: { readonly line: string; readonly fill: string }, px: number): CanvasPattern | string {
  const size = Math.round(6 * px);
  const tile = document.createElement('canvas');
  tile.width = size;
  tile.height = size;
  const ctx = tile.getContext('2d');
  if (!ctx) return fill;
  ctx.fillStyle = fill;
  ctx.fillRect(0, 0, size, size);
  ctx.strokeStyle = line;
  ctx.lineWidth = 1.5 * px;
  ctx.beginPath();
  // Rising to the right, and its ends over both other corners, so that tiles join.
  for (const shift of [-size, 0, size]) {
    ctx.moveTo(shift - size, 2 * size);
    ctx.lineTo(shift + 2 * size, -size);
  }
  ctx.stroke();
  return ctx.createPattern(tile, 'repeat') ?? fill;
}
