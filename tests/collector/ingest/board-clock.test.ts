import { expect, test } from 'vitest';
import { bench, T0 } from './rig.ts';

const FIX_MS = Date.UTC(2027, 0, 10, 18);
const payload = (fields: object) => Buffer.from(JSON.stringify({ lat: 40, t: FIX_MS / 1000, ...fields }));
const source = { topic: 'fix', format: 'json', pointer: '/lat', timePointer: '/t' };

test.each([
  ['is taken from a board that sets the clock, however far from the time of the box', true, {}, false, FIX_MS],
  ['is not taken from another board', false, {}, false, null],
  ['is not taken from what the broker kept', true, {}, true, null],
  ['is not taken from a receiver without a fix', true, { t: 315_964_800 }, false, null],
  ['is not taken from a receiver that counts its weeks wrongly', true, { t: Date.UTC(2080, 0, 6) / 1000 }, false, null],
  ['is not taken from a message whose value cannot be', true, { lat: 1000 }, false, null],
  ['is not taken where none is sent', true, { t: undefined }, false, null],
])('the time %s', (_words, setsClock, fields, retained, clockMs) => {
  const { pipeline } = bench({ 'place.lat': { ...source, ...(setsClock && { setsClock }) } });
  expect(pipeline.accept({ tMs: T0, topic: 'fix', payload: payload(fields), retained }).clockMs).toBe(clockMs);
});
