import { describe, expect, it } from 'vitest';
import { acknowledge, tellShown } from '../../../../dashboard/web/src/worker/rig.ts';
import type { PushBody } from '../../../../shared/push-body.ts';

const NOW_MS = 1_795_752_600_000;
const body = { alarmId: 'low-point', occurrence: 3 } as PushBody;
const json = (value: unknown, status = 200) => new Response(JSON.stringify(value), { status });

/** A rig that answers the clock and then a command; null: it cannot be reached. */
function rig(clock: Response | null, answer?: (command: Record<string, unknown>) => Response) {
  const asked: string[] = [];
  const ask = async (path: string, init?: RequestInit) => {
    asked.push(path);
    if (path === '/api/now' && clock) return clock;
    if (path === '/api/commands' && answer) return answer(JSON.parse(String(init?.body)));
    throw new TypeError('network');
  };
  return { asked, ask };
}

describe('acknowledging from a notification', () => {
  it('goes by the clock of the rig, which may be paced', async () => {
    let given: Record<string, unknown> = {};
    const { ask } = rig(json({ nowMs: NOW_MS, pace: 60 }), (command) => {
      given = command;
      return json({ id: command.id, done: true, reason: '' });
    });
    expect(await acknowledge(body, ask)).toEqual({ kind: 'done' });
    expect(given).toEqual({ kind: 'acknowledge', id: expect.any(String), expiresMs: NOW_MS + 900_000, alarmId: 'low-point', occurrence: 3 });
  });

  it('gives no command where the rig cannot be reached or another answers in its place', async () => {
    const portal = new Response('<html>Sign in</html>', { status: 200 });
    for (const clock of [null, portal, json({ hello: 1 }), new Response('gone', { status: 502 })]) {
      const { ask, asked } = rig(clock);
      expect(await acknowledge(body, ask)).toEqual({ kind: 'unreachable' });
      expect(asked).toEqual(['/api/now']);
    }
  });

  it('says what the rig says when it refuses, and does not take a strange answer for done', async () => {
    const clock = () => json({ nowMs: NOW_MS, pace: 1 });
    const refuses = rig(clock(), ({ id }) => json({ id, done: false, reason: 'It has got worse since.' }));
    expect(await acknowledge(body, refuses.ask)).toEqual({ kind: 'refused', reason: 'It has got worse since.' });
    const unpaired = rig(json({ code: 'NOT_PAIRED', message: 'this device is not paired' }, 401));
    expect(await acknowledge(body, unpaired.ask)).toEqual({ kind: 'refused', reason: 'this device is not paired' });
    const strange = rig(clock(), () => json({ done: true }));
    expect(await acknowledge(body, strange.ask)).toEqual({ kind: 'unreachable' });
  });
});

it('a receipt that nobody takes is left at that', async () => {
  const { ask, asked } = rig(null);
  await tellShown({ noticeId: crypto.randomUUID(), subscription: 'https://push.example/1' }, ask);
  expect(asked).toEqual(['/api/receipts']);
});
