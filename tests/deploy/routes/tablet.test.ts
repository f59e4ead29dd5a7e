import { expect, it } from 'vitest';
import { createTabletSender } from '../../../deploy/routes/tablet.ts';
import { notice } from '../../helpers/notice.ts';

it.each([
  [0, 0, { kind: 'later', reason: 'no screen is open' }],
  [0, 1, { kind: 'later', reason: expect.stringContaining('has not been allowed to sound') }],
  [0, 2, { kind: 'later', reason: expect.stringContaining('have not been allowed to sound') }],
  [1, 3, { kind: 'sent', detail: 'one open screen may sound' }],
  [2, 0, { kind: 'sent', detail: '2 open screens may sound' }],
])('%i screens that may sound and %i that may not: %o', async (sounding, silent, expected) => {
  const sender = createTabletSender(() => ({ sounding, silent }));
  expect(await sender.send(notice(), '', new AbortController().signal)).toEqual(expected);
  expect(await sender.probe(new AbortController().signal)).toEqual(expected);
  expect(sender.remote).toBe(false);
});
