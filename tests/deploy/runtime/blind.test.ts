import { expect, test } from 'vitest';
import { blindBetween, blindText, withBlind } from '../../../deploy/runtime/blind.ts';
import { BankView } from '../../../shared/schema/flows.ts';

const MINUTE_MS = 60_000;
const UNTIL_MS = Date.UTC(2026, 10, 20, 1, 30);
const bank = BankView.parse({
  socPct: 50,
  socSigmaPct: 2,
  anchoredMs: null,
  deviceSocPct: null,
  capacityAh: 280,
  voltageV: null,
  currentA: null,
  remarks: ['no full charge seen yet'],
});

test('a gap is said with how long it was and when it ended, where the rig is, for half a day', () => {
  const blind = blindBetween(UNTIL_MS - 20 * MINUTE_MS, UNTIL_MS);
  const at = (tMs: number) => BankView.parse(withBlind(bank, blind, tMs, 'Europe/Berlin')).remarks;
  expect(at(UNTIL_MS)).toEqual(['no full charge seen yet', expect.stringMatching(/^blind for 20 min until 02:30/)]);
  expect(at(UNTIL_MS + 719 * MINUTE_MS)).toHaveLength(2);
  expect(at(UNTIL_MS + 720 * MINUTE_MS)).toHaveLength(1);
});

test('a restart of under two minutes, and a rig that never ran, are no gap', () => {
  expect(blindBetween(UNTIL_MS - 119_000, UNTIL_MS)).toBeNull();
  expect(blindBetween(null, UNTIL_MS)).toBeNull();
  expect(blindBetween(UNTIL_MS + MINUTE_MS, UNTIL_MS)).toBeNull();
});

test.each([
  [90, '90 min'],
  [130, '2 h'],
  [47 * 60, '47 h'],
  [72 * 60, '3 days'],
])('%d min are said as %s', (minutes, text) => {
  expect(blindText({ fromMs: UNTIL_MS - minutes * MINUTE_MS, untilMs: UNTIL_MS }, 'UTC')).toContain(`blind for ${text} until 01:30`);
});
