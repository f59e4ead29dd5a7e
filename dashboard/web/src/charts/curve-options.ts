import type uPlot from 'uplot';
import { toSeconds } from './columns.ts';
import type { CurveMarks } from './curve-marks.ts';
import { drawBehind, drawOver } from './draw-marks.ts';
import type { Span } from './night-window.ts';
import type { Palette } from './palette.ts';
import type { Tick } from './ticks.ts';

/** Options of the night's curve: columns are those of `curveColumns`. `marks` is asked at every drawing. */
export function curveOptions(window: Span, ticks: readonly Tick[], palette: Palette, marks: () => CurveMarks): Omit<uPlot.Options, 'width' | 'height'> {
  const rem = palette.remPx;
  const labels = new Map(ticks.map((tick) => [toSeconds(tick.tMs), tick.label]));
  const hidden: uPlot.Series = { stroke: 'transparent', width: 0, points: { show: false } };
  const solid = (width: number): uPlot.Series => ({ stroke: palette.bank, width: (width * rem) / 16, points: { show: false } });
  const axis: uPlot.Axis = { stroke: palette.soft, font: `450 ${0.8125 * rem}px ${palette.font}`, ticks: { show: false } };
  return {
    legend: { show: false },
    cursor: { show: false },
    padding: [1.75 * rem, 1.5 * rem, 0, 0],
    scales: {
      x: { time: false, range: () => [toSeconds(window.fromMs), toSeconds(window.toMs)] },
      y: { range: () => [0, 100] },
    },
    axes: [
      {
        ...axis,
        size: 1.9 * rem,
        gap: 0.5 * rem,
        grid: { show: false },
        splits: () => [...labels.keys()],
        values: (_u, splits) => splits.map((s) => labels.get(s) ?? ''),
      },
      {
        ...axis,
        size: 2.4 * rem,
        gap: 0.5 * rem,
        grid: { stroke: palette.line, width: 1 },
        splits: () => [0, 25, 50, 75, 100],
        values: (_u, splits) => splits.map(String),
      },
    ],
    series: [{}, hidden, hidden, hidden, hidden, solid(2), solid(2.75)],
    bands: [
      { series: [2, 1], fill: palette.rangeWide },
      { series: [4, 3], fill: palette.rangeNarrow },
    ],
    hooks: {
      drawClear: [(u) => drawBehind(u, marks(), palette)],
      draw: [(u) => drawOver(u, marks(), palette)],
    },
  };
}
