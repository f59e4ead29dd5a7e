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
  /** Where the bus would stand at its full height. */
  readonly track: { readonly top: number; readonly height: number };
  /** What runs through the bus; null where no power is known, which is not the same as none. */
  readonly totalW: number | null;
}

const LABEL_PX = 22;
const REASON_PX = 18;
const GAP_PX = 12;
/** Where there is room, flows stand this much further apart. */
const MORE_GAP_PX = 14;
const ROOMY_PX = 30;

/** The powers at which the track of the bus is marked, W. */
export const MARKS_W = [10, 100, 1000] as const;
const FIRST_W = MARKS_W[0];
/** From here on the bus has its full height, W. */
const FULL_W = 5000;

/** Share of the track that a power takes, 0 to 1: about even steps from decade to decade, and none at none, so that a kettle looks large and 5 W small, and both can be read. */
export const shareOf = (powerW: number): number => Math.min(1, Math.log1p(powerW / FIRST_W) / Math.log1p(FULL_W / FIRST_W));

/** How many flows a side of `heightPx` has room for with ribbons that can be told apart. */
export const mostFlows = (heightPx: number, zoom = 1): number => Math.max(4, Math.floor((0.6 * heightPx) / zoom / (LABEL_PX + GAP_PX)));

/**
 * Lays the two sides out in `heightPx`, both to one scale, so that they meet the bus in equal heights. The scale is a fixed one (`shareOf`) for all that stands on the
 * larger side, what is unused included. `zoom`: 1 for text of 16 px.
 */
export function layoutRibbons(balance: Balance, heightPx: number, zoom = 1): RibbonLayout {
  const [leftW, rightW] = [sum(balance.left), sum(balance.right)];
  const totalW = Math.max(leftW, rightW);
  const demandW = Math.max(leftW + unusedW(balance.left), rightW);
  const spare = Math.max(0, heightPx - zoom * Math.max(overhead(balance.left), overhead(balance.right)));
  const scale = demandW > 0 ? (spare * shareOf(demandW)) / demandW : 0;
  // A side with nothing beside one with less than the rest that is worth a name: nothing runs.
  const busHeight = Math.min(leftW, rightW) > 0 ? totalW * scale : 0;
  const busTop = (heightPx - busHeight) / 2;
  // The sides differ by less than a rest that is worth a name; the smaller one is drawn as high.
  const sideOf = (side: readonly FlowItem[], sideW: number) => place(side, { scale, flowScale: sideW > 0 ? busHeight / sideW : 0, zoom, heightPx, busTop });
  const isKnown = [...balance.left, ...balance.right].some((flow) => flow.powerW !== null);
  return {
    left: sideOf(balance.left, leftW),
    right: sideOf(balance.right, rightW),
    busTop,
    busHeight,
    track: { top: (heightPx - spare) / 2, height: spare },
    totalW: isKnown ? totalW : null,
  };
}

const sum = (side: readonly FlowItem[]): number => side.reduce((total, flow) => total + (flow.isUnused ? 0 : (flow.powerW ?? 0)), 0);
const unusedW = (side: readonly FlowItem[]): number => side.reduce((total, flow) => total + (flow.isUnused ? (flow.powerW ?? 0) : 0), 0);

const textPx = (flow: FlowItem): number => LABEL_PX + (flow.powerW === null ? REASON_PX : 0);

const overhead = (side: readonly FlowItem[]): number => side.reduce((total, flow) => total + textPx(flow), 0) + GAP_PX * Math.max(0, side.length - 1);

function place(side: readonly FlowItem[], at: { scale: number; flowScale: number; zoom: number; heightPx: number; busTop: number }): Ribbon[] {
  const { zoom } = at;
  const thick = (flow: FlowItem) => (flow.powerW ?? 0) * (flow.isUnused ? at.scale : at.flowScale);
  const leftOver = Math.max(0, at.heightPx - zoom * overhead(side) - side.reduce((total, flow) => total + thick(flow), 0));
  const more = Math.min(zoom * MORE_GAP_PX, leftOver / Math.max(1, side.length));
  let y = (leftOver - more * Math.max(0, side.length - 1)) / 2;
  let busTop = at.busTop;
  return side.map((flow) => {
    const thickness = thick(flow);
    const ribbon: Ribbon = { ...flow, top: y + zoom * LABEL_PX, thickness, busTop, roomy: thickness >= zoom * ROOMY_PX };
    y += zoom * (textPx(flow) + GAP_PX) + more + thickness;
    if (!flow.isUnused) busTop += thickness;
    return ribbon;
  });
}

/** Part of a ribbon's length, from its outer end, in which it runs level: the labels of its neighbours stand there. */
const LEVEL = 0.6;

/** The ribbon's outline as SVG path data, from its outer edge at `outerX` to the bus at `busX`. */
export function ribbonPath(outerX: number, outerTop: number, busX: number, busTop: number, thickness: number): string {
  const bendX = outerX + (busX - outerX) * LEVEL;
  const middleX = (bendX + busX) / 2;
  const n = (v: number) => v.toFixed(1);
  const there = `M${n(outerX)} ${n(outerTop)}H${n(bendX)}C${n(middleX)} ${n(outerTop)} ${n(middleX)} ${n(busTop)} ${n(busX)} ${n(busTop)}`;
  const back = `V${n(busTop + thickness)}C${n(middleX)} ${n(busTop + thickness)} ${n(middleX)} ${n(outerTop + thickness)} ${n(bendX)} ${n(outerTop + thickness)}H${n(outerX)}Z`;
  return there + back;
}
