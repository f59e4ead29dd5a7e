import { expect, test } from 'vitest';
import { believedTwice } from '../../../deploy/runtime/board-time.ts';

const FIX_MS = Date.UTC(2027, 0, 10, 18);

test.each([
  ['told once is not believed', [0], [0], []],
  ['that goes on as the box does is believed', [0, 60], [0, 60], [60]],
  ['sent twice over is one telling', [0, 0], [0, 0], []],
  ['that stands still is not believed', [0, 60, 120], [0, 0, 0], []],
  ['in whole seconds, sent more often, is believed when it has gone on', [0, 0.5, 1], [0, 0, 1], [1]],
  ['after a wrong one is believed with the next that agrees', [0, 1, 2], [9e6, 1, 2], [2]],
  ['that leaps between two tellings is not believed', [0, 1], [0, 3600], []],
])('a time %s', (_words, atS, toldS, believedS) => {
  const hand = { monoMs: 0 };
  const learned: number[] = [];
  const hear = believedTwice(
    () => hand.monoMs,
    (tMs) => learned.push((tMs - FIX_MS) / 1000),
  );
  for (const [at, seconds] of atS.entries()) {
    hand.monoMs = seconds * 1000;
    hear(FIX_MS + (toldS[at] as number) * 1000);
  }
  expect(learned).toEqual(believedS);
});
