import { describe, expect, it } from 'vitest';
import { decode, json, NOW } from './decoding.ts';

describe("the board's own time", () => {
  const at = (t: unknown) => decode(JSON.stringify({ v: 1, t }), json('/v', { timePointer: '/t' }));
  const seconds = NOW / 1000 - 60;

  it.each([
    ['s', seconds],
    ['ms', seconds * 1e3],
    ['us', seconds * 1e6],
    ['ns', seconds * 1e9],
    ['text', `${seconds}`],
  ])('P26 chart point in 1970 or 55840: %s are told by magnitude', (_, t) => {
    expect(at(t)).toMatchObject({ timeMs: NOW - 60_000, remarks: [] });
  });

  it.each([0, 12_345, -5, 1e300, NOW / 1000 + 121, 1_600_000_000, 'yesterday', '2026-13-01T00:00Z', {}, true])(
    'P26 %j is not believed: the arrival time counts',
    (t) => {
      expect(at(t)).toMatchObject({ timeMs: null, remarks: ['time-implausible'] });
    },
  );

  it('P26 up to two minutes ahead is believed', () => {
    expect(at(NOW / 1000 + 119)).toMatchObject({ timeMs: NOW + 119_000 });
  });

  it.each(['2026-06-01T11:59:00Z', '2026-06-01T13:59:00+02:00', '2026-06-01 06:29:00-0530', '2026-06-01t11:59z'])(
    'P28 ISO 8601 with its zone is taken: %s',
    (t) => {
      expect(at(t)).toMatchObject({ timeMs: NOW - 60_000, remarks: [] });
    },
  );

  it.each(['2026-03-29T02:30', '2026-03-29', '2026-03-29 02:30:00'])('P28 everything is shifted by hours: %s has no zone and is not taken', (t) => {
    expect(at(t)).toMatchObject({ timeMs: null, remarks: ['time-without-zone'] });
  });

  it('no time is no fault', () => {
    for (const t of [undefined, null, '']) expect(at(t)).toMatchObject({ timeMs: null, remarks: [] });
  });
});
