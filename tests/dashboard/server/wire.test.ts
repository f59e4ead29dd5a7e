import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { z } from 'zod';
import { changeOf, snapshotOf } from '../../../dashboard/server/live-events.ts';
import { finite, incoming, outgoing } from '../../../dashboard/server/wire.ts';
import { Command, HistoryQuery } from '../../../shared/schema/api.ts';
import { rigUnderTest } from './rig-under-test.ts';

/** The error that a function throws. */
function thrown(work: () => unknown): unknown {
  try {
    work();
  } catch (error) {
    return error;
  }
  throw new Error('nothing was thrown');
}

describe('what goes out', () => {
  test('is the same as JSON would make of it, and untouched where every number is finite', () => {
    fc.assert(fc.property(fc.jsonValue(), (value) => finite(value) === value));
    const anything = fc.anything({ values: [fc.double(), fc.string(), fc.boolean(), fc.constant(null)], withDate: false });
    fc.assert(fc.property(anything, (value) => JSON.stringify(finite(value)) === JSON.stringify(value)));
  });

  test('fails where a number is missing that may not be', () => {
    expect(thrown(() => outgoing(z.object({ v: z.number() }), { v: Number.NaN }))).toMatchObject({ code: 'INTERNAL', message: expect.stringContaining('v:') });
  });

  test('says a reading that is no number as missing, with a reason', () => {
    const { rig, view } = rigUnderTest();
    view.states[0] = { ...view.states[0], value: Number.POSITIVE_INFINITY } as (typeof view.states)[0];
    const expected = { index: 0, value: null, quality: 'bad', reason: 'not-finite' };
    expect(snapshotOf(rig).states[0]).toMatchObject(expected);
    expect(changeOf(rig, [0], []).states).toMatchObject([expected]);
  });

  test('names only what changed, and says null of what is no longer known', () => {
    const { rig, view } = rigUnderTest();
    view.bank = null;
    expect(changeOf(rig, [1, 99], ['bank', 'health'])).toEqual({ v: 1, serverMs: view.serverMs, states: [view.states[1]], bank: null, health: view.health });
    expect(changeOf(rig, [], ['sun'])).toEqual({ v: 1, serverMs: view.serverMs, sun: view.sun });
  });
});

describe('a request that does not fit', () => {
  test('is answered with every mistake: where, what kind of thing was got, what was expected', () => {
    expect(thrown(() => incoming(HistoryQuery, { signal: '', fromMs: 'x' }))).toMatchObject({
      code: 'REQUEST_INVALID',
      issues: [
        { path: 'signal', got: 'a text of 0 characters' },
        { path: 'fromMs', got: 'a text of 1 characters', expected: 'number' },
        { path: 'toMs', got: 'nothing' },
      ],
    });
  });

  test('is never repeated in the answer', () => {
    const secret = '<img src=x onerror=alert(1)>';
    const ok = { kind: 'acknowledge', id: crypto.randomUUID(), expiresMs: 1, alarmId: 'low-point', occurrence: 1 };
    const requests = [
      { kind: secret },
      { ...ok, [secret]: 1 },
      { ...ok, alarmId: secret.repeat(9) },
      { ...ok, occurrence: secret },
      secret,
      [secret],
      { ...ok, id: secret },
    ];
    for (const request of requests) {
      const error = thrown(() => incoming(Command, request)) as Error & { issues: unknown };
      expect(error.message + JSON.stringify(error.issues)).not.toContain('onerror');
      expect(error).toMatchObject({ code: 'REQUEST_INVALID' });
    }
  });
});
