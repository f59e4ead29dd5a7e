import { describe, expect, it } from 'vitest';
import { shown } from '../../../../dashboard/web/src/format/freshness.ts';
import { REJECT_WORDS, REMARK_WORDS, reasonMeaning, SUSPECT_WORDS } from '../../../../dashboard/web/src/format/sensor-words.ts';
import { illFirst, signalLabel, signalsHeadline, skewToTell, standOf } from '../../../../dashboard/web/src/format/signal-stand.ts';
import type { SignalInfo, SignalState } from '../../../../shared/schema/live.ts';
import { REJECT_REASONS, REMARKS, SUSPECT_REASONS } from '../../../../shared/schema/reading.ts';

const NOW = Date.UTC(2026, 5, 1);
const info = (index: number, label: string): SignalInfo => ({ index, name: `x.${index}`, label, unit: 'V', quantity: 'voltage', everyS: 10, topics: [] });
const stand = (state: Partial<SignalState> = {}, live = true) => {
  const whole: SignalState = { index: 0, value: 1, tMs: NOW, quality: 'ok', freshness: 'fresh', received: 1, rejected: 0, ...state };
  return standOf(whole, shown(whole, 10, NOW + 1000, { live, pace: 1 }));
};

it('is called as the rig calls it, else by its kind, else by its name', () => {
  const named = [{ ...info(0, 'Roof'), name: 'outside.temperature' }];
  expect(['outside.temperature', 'bank.current', 'water.tank'].map((name) => signalLabel(name, named))).toEqual(['Roof', 'Bank current', 'water.tank']);
});

describe('how a signal stands', () => {
  it.each([
    [{}, 'fresh', false, ''],
    [{ quality: 'suspect', reason: 'flat' }, 'suspect', true, 'exactly zero'],
    [{ quality: 'bad', reason: 'bad-json' }, 'rejected', true, 'not valid JSON'],
    [{ freshness: 'silent', tMs: NOW - 600_000 }, 'silent', true, ''],
    [{ freshness: 'last-known' }, 'last known only', true, ''],
    [{ freshness: 'never', value: null, tMs: null }, 'nothing yet', true, ''],
  ] as const)('%j is %s', (state, word, isIll, means) => {
    const found = stand(state);
    expect(found).toMatchObject({ word, isIll });
    expect(found.meaning?.means ?? '').toContain(means);
    if (isIll) expect(found.meaning?.todo).not.toBe('');
  });

  it('is unknown without contact to the box', () => {
    expect(stand({}, false)).toMatchObject({ word: 'no contact', isIll: true });
  });

  it('puts those that need somebody first, and says them in a sentence', () => {
    const rows = [
      { info: info(0, 'A'), stand: stand() },
      { info: info(1, 'B'), stand: stand({ freshness: 'silent' }) },
      { info: info(2, 'C'), stand: stand({ quality: 'suspect', reason: 'unit' }) },
      { info: info(3, 'D'), stand: stand({ freshness: 'silent' }) },
    ];
    expect(illFirst(rows).map((row) => row.info.label)).toEqual(['B', 'C', 'D', 'A']);
    expect(signalsHeadline(rows)).toBe('Silent: B, D. Suspect: C.');
    expect(signalsHeadline(rows.slice(0, 1))).toBe('The one signal is fresh.');
    expect(signalsHeadline([])).toBe('No signal is mapped yet.');
  });

  it('tells a skew of more than a minute, either way', () => {
    const report = { name: 'x', rejected: [], remarks: [], note: '' };
    expect([60_000, -61_000, null].map((skewMs) => skewToTell({ ...report, skewMs }))).toEqual([null, -61_000, null]);
  });
});

describe('every reason', () => {
  it('has a meaning, and an unknown one has none', () => {
    for (const reason of REJECT_REASONS) expect(REJECT_WORDS[reason].means).not.toBe('');
    for (const remark of REMARKS) expect(REMARK_WORDS[remark].means).not.toBe('');
    for (const reason of SUSPECT_REASONS) expect([SUSPECT_WORDS[reason].means, SUSPECT_WORDS[reason].todo]).not.toContain('');
    for (const reason of [...REJECT_REASONS, ...SUSPECT_REASONS]) expect(reasonMeaning(reason)).not.toBeNull();
    for (const odd of ['__proto__', 'constructor', 'x', undefined]) expect(reasonMeaning(odd)).toBeNull();
  });
});
