import type uPlot from 'uplot';
import { toSeconds } from './columns.ts';
import { drawLoadMarks, type LoadMarks } from './draw-load-marks.ts';
import { hatch } from './hatch.ts';
import type { Span } from './night-window.ts';
import type { Palette } from './palette.ts';
import type { Tick } from './ticks.ts';

/** The axis and its space are those of the night's curve, so that both have the same moments under each other. */
export interface LoadAxis {
  readonly window: Span;
  readonly ticks: readonly Tick[];
  readonly topW: number;
  readonly marksW: readonly number[];
}

/** Options of the chart of what draws and what gives: columns are those of `stackColumns`. `marks` is asked at every drawing. */
export function loadOptions({ window, ticks, topW, marksW }: LoadAxis, palette: Palette, marks: () => LoadMarks): Omit<uPlot.Options, 'width' | 'height'> {
  const rem = palette.remPx;
  const { minisplit, standing, inverter, sun } = palette.groups;
  const axis: uPlot.Axis = { stroke: palette.soft, font: `450 ${0.8125 * rem}px ${palette.font}`, ticks: { show: false } };
  const layer = (stroke: string, fill: string | CanvasPattern): uPlot.Series => ({ stroke, fill, width: rem / 16, points: { show: false } });
  const { fromMs, toMs } = window;
  return {
    legend: { show: false },
    cursor: { show: false },
    padding: [0.5 * rem, 1.5 * rem, 0, 0],
    scales: { x: { time: false, range: () => [toSeconds(fromMs), toSeconds(toMs)] }, y: { range: () => [0, topW] } },
    axes: [
      { ...axis, size: 0.25 * rem, grid: { show: false }, splits: () => ticks.map(({ tMs }) => toSeconds(tMs)), values: (_u, splits) => splits.map(() => '') },
      {
        ...axis,
        size: 2.4 * rem,
        gap: 0.5 * rem,
        grid: { stroke: palette.line, width: 1 },
        splits: () => [...marksW],
        values: (_u, splits) => splits.map((w) => (w >= 1000 ? `${w / 1000}k` : String(w))),
      },
    ],
    series: [
      {},
      layer(minisplit.line, minisplit.fill),
      layer(palette.ink, standing.line),
      layer(standing.line, standing.fill),
      layer(inverter.line, hatch(inverter, (devicePixelRatio * rem) / 16)),
      { stroke: sun.line, width: (2.5 * rem) / 16, points: { show: false } },
    ],
    hooks: { draw: [(u) => drawLoadMarks(u, marks(), palette)] },
  };
}
