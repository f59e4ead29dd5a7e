import type { Balance, FlowItem } from './balance-items.ts';

/** Where a flow is drawn, px from the top. Its ribbon runs from `[top, top + thickness]` to `[busTop, busTop + thickness]`. */
export interface Ribbon extends FlowItem {
  /** Baseline box of the label above the ribbon. */
  readonly labelTop: number;
  readonly top: number;
  readonly thickness: number;
  readonly busTop: number;
  /** The value stands inside the ribbon; else on the label's line. */
  readonly roomy: boolean;
}

export interface RibbonLayout { readonly left: readonly Ribbon[]; readonly right: readonly Ribbon[]; readonly busTop: number; readonly busHeight: number; readonly totalW: number }

export const LABEL_PX = 22;
const REASON_PX = 18;
const GAP_PX = 12;
const ROOMY_PX = 30;
/** The bus fills half the height at 5 W and all of it at 5 kW, by the logarithm: a glance tells little from much, and both can be read. */
const SMALL_W = 5;
const LARGE_W = 5000;

/** Lays the two sides out in `heightPx`, both to one scale, so that the sides meet the bus in equal heights. */
export function layoutRibbons(balance: Balance, heightPx: number): RibbonLayout {
  const totalW = sum(balance.left);
  const spare = heightPx - Math.max(overhead(balance.left), overhead(balance.right));
  const share = Math.min(1, Math.max(0.5, 0.5 + (0.5 * Math.log(Math.max(totalW, SMALL_W) / SMALL_W)) / Math.log(LARGE_W / SMALL_W)));
  const busHeight = totalW > 0 ? Math.max(0, spare) * share : 0;
  const scale = totalW > 0 ? busHeight / totalW : 0;
  const busTop = (heightPx - busHeight) / 2;
  return { left: place(balance.left, scale, heightPx, busTop), right: place(balance.right, scale, heightPx, busTop), busTop, busHeight, totalW };
}

const sum = (side: readonly FlowItem[]): number => side.reduce((total, flow) => total + (flow.powerW ?? 0), 0);

const textPx = (flow: FlowItem): number => LABEL_PX + (flow.powerW === null ? REASON_PX : 0);

const overhead = (side: readonly FlowItem[]): number => side.reduce((total, flow) => total + textPx(flow), 0) + GAP_PX * Math.max(0, side.length - 1);

function place(side: readonly FlowItem[], scale: number, heightPx: number, firstBusTop: number): Ribbon[] {
  let y = Math.max(0, (heightPx - overhead(side) - sum(side) * scale) / 2);
  let busTop = firstBusTop;
  return side.map((flow) => {
    const thickness = (flow.powerW ?? 0) * scale;
    const ribbon: Ribbon = { ...flow, labelTop: y, top: y + LABEL_PX, thickness, busTop, roomy: thickness >= ROOMY_PX };
    y += textPx(flow) + thickness + GAP_PX;
    busTop += thickness;
    return ribbon;
  });
}

/** The ribbon's outline as SVG path data between two upright edges at `fromX` and `toX`. */
export function ribbonPath(fromX: number, fromTop: number, toX: number, toTop: number, thickness: number): string {
  const bend = (toX - fromX) * 0.5;
  const n = (v: number) => v.toFixed(1);
  const curve = (x0: number, y0: number, x1: number, y1: number, dx: number) => `${n(x0)} ${n(y0)}C${n(x0 + dx)} ${n(y0)} ${n(x1 - dx)} ${n(y1)} ${n(x1)} ${n(y1)}`;
  return `M${curve(fromX, fromTop, toX, toTop, bend)}L${curve(toX, toTop + thickness, fromX, fromTop + thickness, -bend)}Z`;
}
