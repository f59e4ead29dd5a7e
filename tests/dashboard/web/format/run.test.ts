import { describe, expect, it } from 'vitest';
import { namelessLoad, plannedText, type RunQuestion, runWords } from '../../../../dashboard/web/src/format/run.ts';
import type { RunAdvice } from '../../../../shared/schema/advice.ts';
import { runAdvice } from '../../../helpers/web-advice.ts';
import { EVENING_MS } from '../../../helpers/web-scenario-parts.ts';

const question: RunQuestion = { kind: 'run', powerW: 900, minutes: 50, startMs: EVENING_MS, peakW: null, confidence: 0.9 };
const words = (part: Partial<RunAdvice> = {}, asked: Partial<RunQuestion> = {}) =>
  runWords({ ...runAdvice(), ...part }, { ...question, ...asked }, EVENING_MS, 'Europe/Lisbon');

it('repeats what was asked, with the day when it is another one', () => {
  expect(words().asked).toBe('900 W for 50 min from 18:06');
  expect(words({}, { startMs: EVENING_MS + 12 * 3_600_000, minutes: 90, peakW: 2500 }).asked).toBe(
    '900 W (2.50 kW as it starts) for 1 h 30 min from 06:06 tomorrow',
  );
});

it('says yes with what it takes, the voltage and the inverter', () => {
  expect(words().verdict).toBe('Yes: the bank holds 94 nights in 100.');
  expect(words().details).toEqual([
    'It takes 11 points of charge: lowest 47 % this night, 58 % without it.',
    'Lowest voltage 25.4 V, one time in ten lower; the inverter cuts off at 22.0 V.',
    'With all else the inverter carries 1.32 kW of 2.00 kW.',
  ]);
  expect(words({ inverterPeakW: 2800 }).details[2]).toContain(', 2.80 kW of 4.00 kW as it starts.');
});

describe('what speaks against it', () => {
  const no = (limits: RunAdvice['limits'], part: Partial<RunAdvice> = {}) => words({ verdict: 'no', limits, ...part }).verdict;
  it('is named limit by limit', () => {
    expect(no(['above-rating', 'above-surge'], { inverterW: 2400, inverterPeakW: 5100 })).toBe(
      'No: the inverter would carry 2.40 kW, more than the 2.00 kW it is made for; as it starts the inverter would carry 5.10 kW, more than the 4.00 kW it bears.',
    );
    expect(no(['under-cutoff'])).toBe('No: the voltage would fall so low that the inverter cuts off.');
    expect(no(['under-cutoff'], { lowestV: null })).toBe('No: the bank cannot give so much at once.');
    const { effect } = runAdvice();
    expect(no(['floor'], { effect: { ...effect, holdsProbability: 0.3 } })).toBe('No: with it the floor holds 3 nights in 10, without it 97 nights in 100.');
    const before = { ...runAdvice().before, holdsProbability: 0.3 };
    expect(no(['floor'], { before, effect: { ...effect, holdsProbability: 0.3 } })).toBe('No: even without it the floor holds only 3 nights in 10.');
  });
  it('can be that nothing is projected for then: no figures of another night are given', () => {
    const far = words({ verdict: 'unknown', limits: ['too-far-ahead'] });
    expect(far.verdict).toBe("Can't tell: it lies beyond what is projected.");
    expect(far.details).toEqual(['It takes 11 points of charge.']);
  });
});

it('an announced load is told with its watts, its times and, where it is not today, its day', () => {
  const nowMs = Date.UTC(2026, 10, 24, 18);
  const load = { id: '3f0c1f5e-5a5a-4d0e-9b4e-0a8f3b1c2d10', name: 'oven', powerW: 900, startMs: nowMs + 1_800_000, endMs: nowMs + 4_800_000 };
  expect(plannedText(load, nowMs, 'UTC')).toBe('900 W, 18:30 to 19:20');
  expect(plannedText({ ...load, name: namelessLoad(900) }, nowMs, 'UTC')).toBe('18:30 to 19:20');
  const tomorrow = { ...load, startMs: load.startMs + 43_200_000, endMs: load.endMs + 43_200_000 };
  expect(plannedText(tomorrow, nowMs, 'UTC')).toBe('900 W, 06:30 to 07:20 tomorrow');
});
