import type uPlot from 'uplot';

/**
 * Tells where on the x axis a pointer is: a mouse while it is pressed, a finger as it glides along or taps. A finger that moves up or down scrolls the page: the browser
 * then takes the pointer away, and nothing is told. Returns what ends it.
 */
export function followPointer(host: HTMLElement, plot: uPlot, tell: (x: number) => void): () => void {
  let held: number | null = null;
  const at = (event: PointerEvent) => {
    const { left, width } = plot.over.getBoundingClientRect();
    tell(plot.posToVal(Math.min(width, Math.max(0, event.clientX - left)), 'x'));
  };
  const down = (event: PointerEvent) => {
    if (!event.isPrimary || event.button !== 0) return;
    held = event.pointerId;
    host.setPointerCapture(held);
    if (event.pointerType === 'mouse') at(event);
  };
  const move = (event: PointerEvent) => {
    if (event.pointerId === held) at(event);
  };
  const up = (event: PointerEvent) => {
    move(event);
    held = null;
  };
  const lose = () => {
    held = null;
  };
  host.addEventListener('pointerdown', down);
  host.addEventListener('pointermove', move);
  host.addEventListener('pointerup', up);
  host.addEventListener('pointercancel', lose);
  return () => {
    host.removeEventListener('pointerdown', down);
    host.removeEventListener('pointermove', move);
    host.removeEventListener('pointerup', up);
    host.removeEventListener('pointercancel', lose);
  };
}
