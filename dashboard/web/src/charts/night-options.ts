import type uPlot from 'uplot';
import { type Palette, readPalette } from './palette.ts';

/** Colours of the groups beside those that every chart has. */
export interface Tones extends Palette {
  readonly sun: string;
  readonly charger: string;
}

/** Reads the design tokens as they stand. */
export function readTones(): Tones {
  const style = getComputedStyle(document.documentElement);
  const token = (name: string) => style.getPropertyValue(`--${name}`).trim();
  return {
    ...readPalette(),
    sun: token('sun'),
    charger: token('charger'),
  };
}

/** A line, or the upper edge of an area; `dash` in px. */
export interface Stroke {
  readonly color: string;
  readonly widthPx: number;
  readonly fill?: string | CanvasPattern;
  readonly dash?: readonly number[];
}

export interface NightChart {
  readonly tones: Tones;
  readonly x: readonly [from: number, to: number];
  readonly xTicks: readonly (readonly [at: number, label: string])[];
  readonly y: readonly [from: number, to: number];
  readonly yTicks: readonly (readonly [at: number, label: string])[];
  readonly strokes: readonly Stroke[];
  /** Drawn behind and over the lines. */
  behind?(u: uPlot): void;
  over?(u: uPlot): void;
}

/** Room for the words at the left of every chart of a night and beside its right end, rem: what is laid over it keeps to them. */
export const CHART_LEFT_REM = 3.25;
export const CHART_RIGHT_REM = 1.5;

/** Options of a chart of past nights; charts under each other have one x axis. */
export function nightOptions({ tones, x, xTicks, y, yTicks, strokes, behind, over }: NightChart): Omit<uPlot.Options, 'width' | 'height'> {
  const rem = tones.remPx;
  const axis: uPlot.Axis = { stroke: tones.soft, font: `450 ${0.8125 * rem}px ${tones.font}`, ticks: { show: false }, gap: 0.5 * rem };
  const labelled = (ticks: readonly (readonly [number, string])[]): Pick<uPlot.Axis, 'splits' | 'values'> => ({
    splits: () => ticks.map(([at]) => at),
    values: () => ticks.map(([, label]) => label),
  });
  return {
    legend: { show: false },
    cursor: { show: false },
    padding: [0.75 * rem, CHART_RIGHT_REM * rem, xTicks.length > 0 ? 0 : 0.5 * rem, 0],
    scales: { x: { time: false, range: () => [...x] }, y: { range: () => [...y] } },
    axes: [
      { ...axis, ...labelled(xTicks), show: xTicks.length > 0, size: 1.9 * rem, grid: { show: false } },
      { ...axis, ...labelled(yTicks), size: CHART_LEFT_REM * rem, grid: { stroke: tones.line, width: 1 } },
    ],
    series: [
      {},
      ...strokes.map(
        ({ color, widthPx, fill, dash }): uPlot.Series => ({
          stroke: color,
          width: (widthPx * rem) / 16,
          points: { show: false },
          ...(fill && { fill }),
          ...(dash && { dash: [...dash] }),
        }),
      ),
    ],
    hooks: { drawClear: behind ? [behind] : [], draw: over ? [over] : [] },
  };
}
