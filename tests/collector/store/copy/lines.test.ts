import { expect, test } from 'vitest';
import { lineOf, markOf, readMark, timeOfLine } from '../../../../collector/store/copy/lines.ts';
import { SUSPECT_REASONS } from '../../../../shared/schema/reading.ts';
import { START_MS } from '../../../contract/readings.ts';

test('a line has its time, its two tags and only floats', () => {
  const line = lineOf('heron', 'bank.voltage', START_MS, 26, 0);
  expect(line).toBe(`reading,rig=heron,signal=bank.voltage mark=0,value=26 ${START_MS}`);
  expect(timeOfLine(line)).toBe(START_MS);
  // A whole number without a trailing i is a float of the protocol.
  expect(lineOf('heron', 'bank.voltage', START_MS, -1.5e-7, 64)).toBe(`reading,rig=heron,signal=bank.voltage mark=64,value=-1.5e-7 ${START_MS}`);
});

test.each([
  ['a backslash, which would swallow what follows', 'heron\\', 'bank.voltage', START_MS, 1],
  ['a comma', 'heron', 'bank.voltage,x=y', START_MS, 1],
  ['a space', 'heron', 'bank voltage', START_MS, 1],
  ['a line end', 'heron', 'bank.voltage\nx', START_MS, 1],
  ['no time', 'heron', 'bank.voltage', Number.NaN, 1],
  ['half a millisecond', 'heron', 'bank.voltage', START_MS + 0.5, 1],
  ['no number', 'heron', 'bank.voltage', START_MS, Number.NaN],
])('%s makes no line', (_, rigId, signal, tMs, value) => {
  expect(() => lineOf(rigId, signal, tMs, value, 0)).toThrow();
});

test('a mark tells quality, reason and kind of time back', () => {
  const all = (['arrival', 'device'] as const).flatMap((timeSource) => [
    { quality: 'ok' as const, timeSource },
    { quality: 'suspect' as const, timeSource },
    ...SUSPECT_REASONS.map((reason) => ({ quality: 'suspect' as const, reason, timeSource })),
  ]);
  const marks = all.map(markOf);
  expect(marks.map(readMark)).toEqual(all);
  expect(new Set(marks).size).toBe(all.length);
  // These lie on servers for years: they may grow in number and never change.
  expect(marks.slice(0, 10)).toEqual([0, 1, 2, 3, 4, 5, 6, 7, 8, 9]);
});
