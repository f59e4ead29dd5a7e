import type { Balance, FlowItem } from './balance-items.ts';

/** Where a flow is drawn, px from the top; its label stands above it. Its ribbon runs from `[top, top + thickness]` to `[busTop, busTop + thickness]`. */
export interface Ribbon extends FlowItem {
  readonly top: number;
  readonly thickness: number;
  readonly busTop: number;
  /** The value stands inside the ribbon; else on the label's line. */
  readonly roomy: boolean;
}

export interface RibbonLayout {
  readonly left: readonly Ribbon[];
  readonly right: readonly Ribbon[];
  readonly busTop: number;
  readonly busHeight: number;
  /** What runs through the bus; null where no power is known, which is not the same as none. */
  readonly totalW: number | null;
}

const LABEL_PX = 22;
const REASON_PX = 18;
const GAP_PX = 12;
const ROOMY_PX = 30;
/** The bus fills half the height at 5 W and all of it at 5 kW, by the logarithm: a glance tells little from much, and both can be read. */
const SMALL_W = 5;
const LARGE_W = 5000;

/** Lays the two sides out in `heightPx`, both to one scale, so that the sides meet the bus in equal heights. `zoom`: 1 for text of 16 px. */
export function layoutRibbons(balance: Balance, heightPx: number, zoom = 1): RibbonLayout {
  const totalW = Math.max(sum(balance.left), sum(balance.right));
  const spare = heightPx - zoom * Math.max(overhead(balance.left), overhead(balance.right));
  const share = Math.min(1, Math.max(0.5, 0.5 + (0.5 * Math.log(Math.max(totalW, SMALL_W) / SMALL_W)) / Math.log(LARGE_W / SMALL_W)));
  const busHeight = totalW > 0 ? Math.max(0, spare) * share : 0;
  const scale = totalW > 0 ? busHeight / totalW : 0;
  const busTop = (heightPx - busHeight) / 2;
  const sideOf = (side: readonly FlowItem[]) => place(side, { scale, zoom, heightPx, busTop });
  const isKnown = [...balance.left, ...balance.right].some((flow) => flow.powerW !== null);
  return { left: sideOf(balance.left), right: sideOf(balance.right), busTop, busHeight, totalW: isKnown ? totalW : null };
}

const sum = (side: readonly FlowItem[]): number => side.reduce((total, flow) => total + (flow.powerW ?? 0), 0);

const textPx = (flow: FlowItem): number => LABEL_PX + (flow.powerW === null ? REASON_PX : 0);

const overhead = (side: readonly FlowItem[]): number => side.reduce((total, flow) => total + textPx(flow), 0) + GAP_PX * Math.max(0, side.length - 1);

function place(side: readonly FlowItem[], at: { scale: number; zoom: number; heightPx: number; busTop: number }): Ribbon[] {
  const { scale, zoom } = at;
  let y = Math.max(0, (at.heightPx - zoom * overhead(side) - sum(side) * scale) / 2);
  let busTop = at.busTop;
  return side.map((flow) => {
    const thickness = (flow.powerW ?? 0) * scale;
    const ribbon: Ribbon = { ...flow, top: y + zoom * LABEL_PX, thickness, busTop, roomy: thickness >= zoom * ROOMY_PX };
    y += zoom * (textPx(flow) + GAP_PX) + thickness;
    busTop += thickness;
    return ribbon;
  });
}

/** Part of a ribbon's length, from its outer end, in which it runs level: the labels of its neighbours stand there. */
const LEVEL = 0.54;

/** The ribbon's outline as SVG path data, from its outer edge at `outerX` to the bus at `busX`. */
export function ribbonPath(outerX: number, outerTop: number, busX: number, busTop: number, thickness: number): string {
  const bendX = outerX + (busX - outerX) * LEVEL;
  const middleX = (bendX + busX) / 2;
  const n = (v: number) => v.toFixed(1);
  const there = `M${n(outerX)} ${n(outerTop)}H${n(bendX)}C${n(middleX)} ${n(outerTop)} ${n(middleX)} ${n(busTop)} ${n(busX)} ${n(busTop)}`;
  const back = `V${n(busTop + thickness)}C${n(middleX)} ${n(busTop + thickness)} ${n(middleX)} ${n(outerTop + thickness)} ${n(bendX)} ${n(outerTop + thickness)}H${n(outerX)}Z`;
  return there + back;
}
