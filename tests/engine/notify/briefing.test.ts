import { describe, expect, it } from 'vitest';
import { type BedtimeInputs, bedtimeText, morningText } from '../../../engine/notify/briefing.ts';
import { nightRow } from '../../helpers/notify-night.ts';
import { tonightAdvice } from '../../helpers/web-advice.ts';
import { EVENING_MS, projection, quantiles, SUNRISE_MS } from '../../helpers/web-scenario-parts.ts';

const ZONE = 'Etc/UTC';
const base = projection(EVENING_MS, 95, 50, 'holds');
const LOW = { ...quantiles(SUNRISE_MS + 3_600_000, 41.4, 6), p10Pct: 35.6, p90Pct: 47.2 };
const spoken = { ...base, nightStartMs: EVENING_MS - 1, lowPoint: LOW, floorPct: 30, belowFloorMs: null, doubts: [] };
const bedtime = (part: Partial<BedtimeInputs> = {}) =>
  bedtimeText({ projection: spoken, advice: null, setpointC: 24, remarks: [], reachWords: '', units: 'metric', timeZone: ZONE, ...part });
const advised = (setpointC: number, nowHolds: boolean) => {
  const advice = tonightAdvice();
  const rung = { ...(advice.ladder[0] as (typeof advice.ladder)[number]), setpointC };
  const ladder = [
    { ...rung, setpointC: 22, minisplitWh: 2000 },
    { ...rung, setpointC: 26, minisplitWh: 800 },
  ];
  return { ...advice, confidence: 0.8, ladder, setpoint: { setpointC, rung, nowHolds } };
};

describe('the briefing at bedtime', () => {
  it('gives the verdict with the range of the low point', () => {
    expect(bedtime()).toEqual({ title: 'Tonight the bank holds', text: 'Lowest 41 % at 08:27, eight nights in ten 36 to 47 %; floor 30 %.' });
  });

  it('says from when the bank is under its floor', () => {
    const { title, text } = bedtime({ projection: { ...spoken, verdict: 'falls-short', belowFloorMs: Date.UTC(2026, 10, 25, 5, 10) } });
    expect(title).toBe('Tonight the bank falls short');
    expect(text).toMatch(/^Under the floor at about 05:10\. Lowest 41 %/);
  });

  it('names the day of a night that has not begun', () => {
    expect(bedtime({ projection: { ...spoken, nightStartMs: EVENING_MS + 3_600_000 } }).text).toContain('at Wednesday 08:27');
  });

  it('gives the setpoint that holds, in the units of the rig, beside the one in force', () => {
    expect(bedtime({ advice: advised(25.5, false) }).text).toContain(
      '25.5°C is the coolest setpoint that holds at least 80 nights in 100; 24°C, set now, does not.',
    );
    expect(bedtime({ advice: advised(23, true), units: 'us' }).text).toContain(
      '73°F is the coolest setpoint that holds at least 80 nights in 100; 75°F, set now, holds too.',
    );
    expect(bedtime({ advice: advised(24, true) }).text).toContain('The setpoint of 24°C holds, and none beyond it.');
    expect(bedtime({ advice: advised(23, true), setpointC: null }).text).toContain('80 nights in 100.');
  });

  it('turns the words round for a unit that heats, and says when no setpoint holds', () => {
    const heating = advised(19, true);
    const ladder = heating.ladder.map((rung) => ({ ...rung, minisplitWh: rung.setpointC * 50 }));
    expect(bedtime({ advice: { ...heating, ladder } }).text).toContain('19°C is the warmest setpoint');
    const none = { ...heating, setpoint: { setpointC: null, rung: null, nowHolds: false } };
    expect(bedtime({ advice: none }).text).toContain('No setpoint holds the floor 80 nights in 100.');
  });

  it('ends with the reach of alarms and what is doubtful, each once, three at most', () => {
    const doubts = ['learning: 2 of 5 nights', 'the shunt was silent', 'no forecast'];
    const { text } = bedtime({
      projection: { ...spoken, doubts },
      remarks: ['the shunt was silent', 'never anchored'],
      reachWords: 'Remote alarms have not been reachable since 21:40.',
    });
    expect(text).toMatch(/since 21:40\. Learning: 2 of 5 nights\. The shunt was silent\. No forecast\.$/);
  });

  it('says what cannot be told', () => {
    expect(bedtime({ projection: null })).toEqual({ title: 'Tonight cannot be told', text: 'Nothing has been projected yet.' });
    expect(bedtime({ projection: { ...spoken, verdict: 'unknown', doubts: ['no reading since 20:10'] } }).text).toBe(
      'Whether the bank holds is not known. No reading since 20:10.',
    );
  });
});

describe('the briefing in the morning', () => {
  const said = (p10Pct: number, p90Pct: number) => ({ sunrise: null, lowPoint: { ...LOW, p10Pct, p50Pct: 40, p90Pct } });

  it('gives what the night cost and its low point', () => {
    expect(morningText(nightRow(), ZONE)).toEqual({
      title: 'The night cost the bank 2.1 kWh',
      text: 'Lowest 41 % at 08:35; nothing had been said. Mini-split 1.3 kWh, all else 0.9 kWh.',
    });
  });

  it.each([
    ['within', 36, 47, 'within the range of 36 to 47 %'],
    ['at the edge of, as it is read', 41.45, 47, 'within the range of 41 to 47 %'],
    ['under', 42, 47, 'under the range of 42 to 47 %'],
    ['above', 30, 40.6, 'above the range of 30 to 41 %'],
  ])('says that the low point came %s the range', (_, low, high, words) => {
    const night = nightRow({ lowPointPct: words.startsWith('above') ? 42 : 41.4, projectedAtSunset: said(0, 1), projectedAtBedtime: said(low, high) });
    expect(morningText(night, ZONE).text).toContain(`at bedtime 40 % was said, and it came ${words}.`);
  });

  it('goes by what was said at sunset where nothing was at bedtime', () => {
    expect(morningText(nightRow({ projectedAtSunset: said(36, 47) }), ZONE).text).toContain('at sunset 40 % was said');
  });

  it('says what went unused, what is estimated, and what is missing', () => {
    const { text } = morningText(nightRow({ surplusWh: 640, minisplitEstimated: true, standingWh: null, coverage: 0.8 }), ZONE);
    expect(text).toContain(
      'Mini-split about 1.3 kWh, all else 0.8 kWh. Since sunrise about 0.6 kWh of sun went unused. Readings are missing for 20 % of the night.',
    );
    expect(morningText(nightRow({ minisplitWh: null }), ZONE).text).toBe('Lowest 41 % at 08:35; nothing had been said.');
  });
});
