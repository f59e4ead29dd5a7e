import { describe, expect, it } from 'vitest';
import { AddressRefused } from '../../../deploy/routes/address-guard.ts';
import { attempt, later, retryAfterMs, sent, trouble } from '../../../deploy/routes/outcome.ts';

const open = new AbortController().signal;

describe('an attempt', () => {
  it('that throws may be made again, unless the settings themselves forbid it', async () => {
    const thrown = (error: unknown) => attempt('a.example', 1000, open, () => Promise.reject(error));
    expect(await thrown(new AddressRefused('not there', true))).toEqual({ kind: 'never', reason: 'not there' });
    expect(await thrown(new AddressRefused('a portal', false))).toEqual({ kind: 'later', reason: 'a portal' });
    expect(await thrown(Object.assign(new Error('no'), { code: 'ECONNREFUSED' }))).toEqual({ kind: 'later', reason: 'a.example takes no connection' });
  });

  it('ends by the signal of who asked for it, whatever that says', async () => {
    const asked = new AbortController();
    const result = attempt(
      'a.example',
      60_000,
      asked.signal,
      (signal) => new Promise((_, reject) => signal.addEventListener('abort', () => reject(signal.reason))),
    );
    asked.abort(new Error('secret'));
    expect(await result).toEqual(later('a.example did not answer in time'));
  });

  it('ends in time even when the work heeds no signal, and also when it was over before it began', async () => {
    const deaf = () => new Promise<never>(() => undefined);
    expect(await attempt('a.example', 10, open, deaf)).toEqual(later('a.example did not answer in time'));
    expect(await attempt('a.example', 60_000, AbortSignal.abort(), deaf)).toEqual(later('a.example did not answer in time'));
  });

  it('never repeats the text of an error, which may hold an address with a secret', () => {
    const secret = new Error('https://hook.example/?token=hunter2');
    expect(trouble(secret, 'hook.example')).toBe('hook.example could not be reached');
    expect(trouble(Object.assign(secret, { code: 'SELF_SIGNED_CERT_IN_CHAIN' }), 'hook.example')).toContain('is not trusted');
    expect(trouble(new AggregateError([Object.assign(secret, { code: 'ENETUNREACH' })]), 'hook.example')).toContain('no way to hook.example');
  });
});

it('a wait is taken in seconds or as a date, within a day', () => {
  const nowMs = Date.parse('2026-11-27T04:00:00Z');
  expect(retryAfterMs('120', nowMs)).toBe(120_000);
  expect(retryAfterMs('Fri, 27 Nov 2026 04:01:30 GMT', nowMs)).toBe(90_000);
  expect(retryAfterMs('Fri, 27 Nov 2026 03:00:00 GMT', nowMs)).toBe(0);
  expect(retryAfterMs('999999999', nowMs)).toBe(86_400_000);
  expect([retryAfterMs('soon', nowMs), retryAfterMs('-5', nowMs), retryAfterMs(undefined, nowMs)].filter((wait) => wait !== null && wait > 0)).toEqual([]);
  expect(later('busy', 5)).toEqual({ kind: 'later', reason: 'busy', afterMs: 5 });
  expect(later('x'.repeat(400))).toEqual({ kind: 'later', reason: 'x'.repeat(300) });
  expect(sent('x'.repeat(400))).toEqual({ kind: 'sent', detail: 'x'.repeat(300) });
});
