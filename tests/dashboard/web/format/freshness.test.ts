import { describe, expect, it } from 'vitest';
import { shown, signalsText } from '../../../../dashboard/web/src/format/freshness.ts';
import type { SignalState } from '../../../../shared/schema/live.ts';

const NOW = 1_800_000_000_000;
const LIVE = { live: true, pace: 1 };
const state = (part: Partial<SignalState>): SignalState => ({
  index: 0,
  value: 24.4,
  tMs: NOW - 3000,
  quality: 'ok',
  freshness: 'fresh',
  received: 1,
  rejected: 0,
  ...part,
});

describe('a value', () => {
  it('says no age while it is fresh', () => {
    expect(shown(state({}), 10, NOW, LIVE)).toEqual({ value: 24.4, old: '', missing: '', suspect: '' });
  });

  it('says its age when the signal is silent, contact is lost, or it outlives three cadences', () => {
    expect(shown(state({ freshness: 'silent', tMs: NOW - 700_000 }), 10, NOW, LIVE).old).toBe('11 min old');
    expect(shown(state({}), 10, NOW, { live: false, pace: 1 }).old).toBe('3 s old');
    expect(shown(state({ tMs: NOW - 36_000 }), 10, NOW, LIVE).old).toBe('36 s old');
  });

  it('allows for the transit of messages in a demo whose time runs fast', () => {
    expect(shown(state({ tMs: NOW - 300_000 }), 10, NOW, { live: true, pace: 60 }).old).toBe('');
  });

  it('says that it is only the last one known', () => {
    expect(shown(state({ freshness: 'last-known', tMs: NOW - 7_200_000 }), 10, NOW, LIVE).old).toBe('last known, 2 h old');
  });

  it('is a dash with its reason when there is none, never 0', () => {
    expect(shown(undefined, 10, NOW, LIVE)).toMatchObject({ value: null, missing: 'no reading yet' });
    expect(shown(state({ freshness: 'never', value: null, tMs: null }), 10, NOW, LIVE)).toMatchObject({ value: null, missing: 'no reading yet' });
    expect(shown(state({ value: null, quality: 'bad', reason: 'out-of-range' }), 10, NOW, LIVE)).toMatchObject({ value: null, missing: 'out of range' });
    expect(shown(state({ value: 0 }), 10, NOW, LIVE)).toMatchObject({ value: 0, missing: '' });
  });

  it('says what makes it suspect', () => {
    expect(shown(state({ quality: 'suspect', reason: 'power-on-value' }), 10, NOW, LIVE).suspect).toBe('a power-on value');
  });
});

it('says how it stands with all signals, and calls none of none fresh', () => {
  expect([signalsText(0, 0, 0), signalsText(1, 0, 0), signalsText(11, 0, 0)]).toEqual(['no signal yet', 'the one signal fresh', 'all 11 signals fresh']);
  expect([signalsText(11, 2, 3), signalsText(11, 0, 3)]).toEqual(['2 of 11 signals silent', '3 of 11 signals suspect']);
});
