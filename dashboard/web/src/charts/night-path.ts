import type { NightCurves } from '../../../../shared/schema/night-book.ts';

export type SmallCurve = NightCurves[number];

/** How small curves are drawn so that they can be compared: the same hours wide, the same percents high. */
export interface PathScale {
  readonly width: number;
  readonly height: number;
  /** Hours of the longest night, ms. */
  readonly spanMs: number;
  readonly lowPct: number;
  readonly highPct: number;
}

/** Room above and below, so that a line's width is not cut, px. */
const EDGE = 2;

/** The scale for curves side by side: from a little under the lowest of them and the floor, up to full. */
export function pathScale(curves: readonly SmallCurve[], floorPct: number | null, width: number, height: number): PathScale {
  const values = curves.flatMap(({ socPct }) => socPct.filter((pct) => pct !== null));
  const lowest = Math.min(100, ...values, ...(floorPct === null ? [] : [floorPct]));
  const spanMs = Math.max(1, ...curves.map(({ stepMs, socPct }) => stepMs * socPct.length));
  return { width, height, spanMs, lowPct: Math.max(0, lowest - 3), highPct: 100 };
}

/** Height of a percentage in the picture, px from its top. */
export const pathY = ({ height, lowPct, highPct }: PathScale, pct: number): number =>
  round(EDGE + ((highPct - pct) / (highPct - lowPct)) * (height - 2 * EDGE));

/** The curve as an SVG path, a mean in the middle of its step; nothing is drawn across what was not measured. */
export function nightPath({ stepMs, socPct }: SmallCurve, scale: PathScale): string {
  let isDown = false;
  const parts: string[] = [];
  socPct.forEach((pct, i) => {
    if (pct !== null) {
      const x = round((((i + 0.5) * stepMs) / scale.spanMs) * scale.width);
      parts.push(`${isDown ? 'L' : 'M'}${x} ${pathY(scale, pct)}`);
    }
    isDown = pct !== null;
  });
  return parts.join('');
}

/** The lowest of the curve, px; null for one without a value. */
export function lowestAt({ stepMs, socPct }: SmallCurve, scale: PathScale): { x: number; y: number } | null {
  let at = -1;
  socPct.forEach((pct, i) => {
    const lowest = socPct[at];
    if (pct !== null && (lowest === undefined || lowest === null || pct < lowest)) at = i;
  });
  const pct = socPct[at];
  return pct === undefined || pct === null ? null : { x: round((((at + 0.5) * stepMs) / scale.spanMs) * scale.width), y: pathY(scale, pct) };
}

const round = (px: number): number => Math.round(10 * px) / 10;
