import type { EpochMs } from '../../../../shared/units.ts';
import type { CurveMarks, Moment } from './curve-marks.ts';
import { type Box, type Obstacle, placeBoxes, type Wish } from './place-boxes.ts';

/** The plot as its words need it, lengths in px of one kind: its box, the size of a rem, positions of moments and percentages, widths of texts. */
export interface Frame extends Box {
  readonly rem: number;
  x(tMs: EpochMs): number;
  y(pct: number): number;
  widthOf(text: string, look: WordLook): number;
}

export interface WordLook {
  readonly tone: 'ink' | 'soft' | 'floor';
  readonly sizeRem: number;
  readonly weight: number;
}

/** A word with the box that it stands in. */
export interface CurveWord extends Box {
  readonly text: string;
  readonly look: WordLook;
}

/** A point of the curve, measured or projected; `range` from the top down, where it is projected. */
export interface CurvePoint {
  readonly x: number;
  readonly y: number;
  readonly range?: readonly [top: number, bottom: number];
}

const NOW: WordLook = { tone: 'ink', sizeRem: 0.9375, weight: 650 };
const PLAIN: WordLook = { tone: 'soft', sizeRem: 0.8125, weight: 500 };
const FLOOR: WordLook = { tone: 'floor', sizeRem: 0.8125, weight: 500 };

/** Height of a line of words, rem. */
const LINE_REM = 1.2;
/** Space between a word and its line or dot, rem. */
const BESIDE_REM = 0.5;
/** What covering a square px of these costs. */
const WEIGHT = { curve: 20, now: 10, line: 3, range: 1 } as const;

/** Where the words of a night's curve stand: none over another, all in the plot, as few as can be over the curve, its range and the upright lines. Those that had to give way are left out. */
export function curveWords(marks: CurveMarks, curve: readonly CurvePoint[], frame: Frame): CurveWord[] {
  const { rem } = frame;
  const height = LINE_REM * rem;
  const bounds = { left: frame.left, top: frame.top, right: frame.right, bottom: frame.bottom - 0.4 * rem };
  const wanted: { text: string; look: WordLook; wish: Wish }[] = [];
  const want = (text: string, look: WordLook, places: (width: number) => Wish['places'], isSpare = false) => {
    if (text === '') return;
    const width = frame.widthOf(text, look);
    wanted.push({ text, look, wish: { width, height, places: places(width), isSpare } });
  };
  if (marks.now.pct !== null) want(marks.now.label, NOW, (width) => besideDot(marks.now, width, height, frame));
  marks.uprights.forEach((upright, i) => {
    want(upright.label, PLAIN, (width) => besideUpright(upright, i < marks.uprights.length - 1 ? 'left' : 'right', width, height, { frame, bounds }));
  });
  if (marks.floorPct !== null) {
    const y = frame.y(marks.floorPct);
    want(`floor ${Math.round(marks.floorPct)} %`, FLOOR, (width) => alongFloor(y, width, height, frame));
  }
  const run = marks.surplus[0];
  if (run) {
    const lefts = (width: number) => [frame.x(run.fromMs), frame.x(marks.now.tMs) - width - BESIDE_REM * rem, frame.left];
    want(marks.surplusLabel, PLAIN, (width) => [1, 2].flatMap((row) => lefts(width).map((left) => [left, bounds.bottom - row * height] as const)), true);
  }
  const boxes = placeBoxes(
    wanted.map(({ wish }) => wish),
    obstacles(marks, curve, frame),
    bounds,
  );
  return wanted.flatMap(({ text, look }, i) => {
    const box = boxes[i];
    return box ? [{ ...box, text, look }] : [];
  });
}

type Places = (readonly [number, number])[];

/** Beside the dot of now: where the past has left room first, then further off. */
function besideDot(now: CurveMarks['now'], width: number, height: number, { x, y, rem }: Frame): Places {
  const [at, dotY] = [x(now.tMs), y(now.pct ?? 0)];
  const [left, right] = [at - width - BESIDE_REM * rem, at + BESIDE_REM * rem];
  const [above, below] = [dotY - height - 0.2 * rem, dotY + 0.3 * rem];
  const near: Places = now.isRising
    ? [
        [left, above],
        [left, below],
        [right, below],
        [right, above],
      ]
    : [
        [left, below],
        [left, above],
        [right, below],
        [right, above],
      ];
  const further = [1, 2, 3, 4, 5].flatMap(
    (n): Places => [
      [right, below + 0.5 * n * height],
      [right, above - 0.5 * n * height],
      [left, below + 0.5 * n * height],
    ],
  );
  return [...near, ...further];
}

/** Beside an upright: at the foot of the plot, else under the sky; on its own side first. */
function besideUpright({ tMs }: Moment, side: 'left' | 'right', width: number, height: number, { frame, bounds }: { frame: Frame; bounds: Box }): Places {
  const at = frame.x(tMs);
  const sides = [at - width - BESIDE_REM * frame.rem, at + BESIDE_REM * frame.rem];
  const [first = 0, second = 0] = side === 'left' ? sides : sides.reverse();
  const rows = [0, 1, 2].map((row) => bounds.bottom - (row + 1) * height).concat([0, 1, 2].map((row) => bounds.top + row * height));
  return rows.flatMap(
    (top): Places => [
      [first, top],
      [second, top],
    ],
  );
}

/** On the floor's line or right under it, from the left to the right. */
function alongFloor(y: number, width: number, height: number, { left, right, rem }: Frame): Places {
  const lefts = [0, 0.2, 0.4, 0.6, 0.8, 1].map((share) => left + 0.4 * rem + share * (right - left - width - 0.8 * rem));
  return lefts.flatMap(
    (at): Places => [
      [at, y - height - 0.15 * rem],
      [at, y + 0.2 * rem],
    ],
  );
}

function obstacles(marks: CurveMarks, curve: readonly CurvePoint[], { x, y, top, bottom, left, right, rem }: Frame): Obstacle[] {
  const thick = 0.2 * rem;
  const upright = (tMs: EpochMs, weight: number): Obstacle => ({ left: x(tMs) - thick, right: x(tMs) + thick, top, bottom, weight });
  const steps = curve.slice(1).flatMap((to, i): Obstacle[] => {
    const from = curve[i] ?? to;
    const across = { left: from.x, right: to.x };
    const line = { ...across, top: Math.min(from.y, to.y) - 2 * thick, bottom: Math.max(from.y, to.y) + 2 * thick, weight: WEIGHT.curve };
    return to.range ? [line, { ...across, top: to.range[0], bottom: to.range[1], weight: WEIGHT.range }] : [line];
  });
  const floor =
    marks.floorPct === null ? [] : [{ left, right, top: y(marks.floorPct) - thick / 2, bottom: y(marks.floorPct) + thick / 2, weight: WEIGHT.line }];
  return [...steps, ...floor, upright(marks.now.tMs, WEIGHT.now), ...marks.uprights.map(({ tMs }) => upright(tMs, WEIGHT.line))];
}
