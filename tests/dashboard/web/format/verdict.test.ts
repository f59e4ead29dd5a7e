import { describe, expect, it } from 'vitest';
import { plainText, verdict } from '../../../../dashboard/web/src/format/verdict.ts';
import { chances } from '../../../../shared/help-text.ts';
import { EVENING_MS, H, projection, SUNRISE_MS } from '../../../helpers/web-scenario-parts.ts';

const say = (p: ReturnType<typeof projection> | null, nowMs = p?.tMs ?? EVENING_MS, confidence = 0.9) => {
  const said = verdict(p, null, { nowMs, zone: 'Europe/Lisbon', units: 'metric', setpointC: 24, confidence });
  return { ...said, text: plainText(said.pieces) };
};

describe('the verdict sentence', () => {
  it('says that the bank holds, with sunrise first and the low point after it', () => {
    const said = say(projection(EVENING_MS, 95.8, 37.6, 'holds'));
    expect(said.text).toBe('61 % at sunrise, lowest 58 % at 08:35: the bank holds.');
    expect(said.range).toBe('Eight nights in ten the low point lies between 52 and 64 %. Floor 35 %: margin 1.7 kWh, half of the nights less.');
    expect(said.advice).toBe('');
  });

  it('says when it falls short and which setpoint would hold', () => {
    const said = say(projection(EVENING_MS, 84, 62, 'falls-short'));
    expect(said.text).toBe('Falls short at 05:32: lowest 22 % at 08:35.');
    expect(said.range).toContain('0.9 kWh short');
    expect(said.advice).toBe('Set 28°C and it holds 97 nights in 100.');
  });

  it('advises less load when no setpoint holds, and when there is none to choose', () => {
    const p = projection(EVENING_MS, 60, 59, 'falls-short');
    expect(say(p).advice).toBe('No setpoint holds for sure: draw less, or bring in a charge.');
    expect(say({ ...p, ladder: [] }).advice).toBe('Draw less, or bring in a charge.');
  });

  it('advises what holds as often as the owner wants, and says how often it does when that is not enough', () => {
    const p = { ...projection(EVENING_MS, 95.8, 57, 'tight'), belowFloorProbability: 0.18 };
    const rungs = [0.82, 0.93, 0.97].map((holdsProbability, i) => ({ ...(p.ladder[0] ?? {}), setpointC: 24 + 0.5 * i, holdsProbability })) as typeof p.ladder;
    expect(say({ ...p, ladder: rungs }, EVENING_MS, 0.9).advice).toBe('Set 24.5°C and it holds 93 nights in 100.');
    expect(say({ ...p, ladder: rungs }, EVENING_MS, 0.95).advice).toBe('Set 25°C and it holds 97 nights in 100.');
    expect(say({ ...p, ladder: rungs }, EVENING_MS, 0.98).advice).toMatch(/^No setpoint holds for sure/);
    expect(say(p, EVENING_MS, 0.95).range).toMatch(/^It holds 82 nights in 100; you want 95 nights in 100\. Eight nights/);
  });

  it('says that the bank is under the floor when it is so already', () => {
    const p = { ...projection(EVENING_MS, 33, 20, 'falls-short'), belowFloorMs: EVENING_MS };
    expect(say(p, EVENING_MS + 60_000).text).toMatch(/^Under the floor now: lowest /);
  });

  it('says tight, learning and why it cannot tell', () => {
    expect(say(projection(EVENING_MS, 95.8, 57, 'tight')).text).toBe('43 % at sunrise, lowest 39 % at 08:35: tight.');
    expect(say({ ...projection(EVENING_MS, 95.8, 40, 'learning'), nights: 2 }).text).toBe('Learning: 2 of 5 nights. Lowest about 56 % at 08:35.');
    const under = { ...projection(EVENING_MS, 84, 62, 'learning'), nights: 0 };
    expect(say(under).text).toBe('Learning: 0 of 5 nights. Lowest about 22 % at 08:35, under the floor.');
    const unknown = say({ ...projection(EVENING_MS, 95.8, 40, 'unknown'), doubts: ['The bank current is silent.', 'no place'] });
    expect(unknown.text).toBe("Can't tell: the bank current is silent.");
    expect(unknown.range).toBe('no place');
  });

  it('says that it learns with a bank that falls short too', () => {
    const short = { ...projection(EVENING_MS, 84, 62, 'falls-short'), nights: 3 };
    expect(say(short).text).toMatch(/^Falls short at 05:32/);
    expect(say(short).range).toMatch(/^Learning: 3 of 5 nights\. Eight nights in ten/);
    expect(say({ ...short, nights: 5 }).range).not.toContain('Learning');
  });

  it('speaks of the low point alone once the sun has risen', () => {
    const p = projection(SUNRISE_MS + 60_000, 44, 4, 'holds');
    expect(say(p).text).toBe('Lowest 40 % at 08:35: the bank holds.');
    expect(say(projection(EVENING_MS, 95.8, 37.6, 'tight'), SUNRISE_MS + 1).text).toBe('Lowest 58 % at 08:35: tight.');
  });

  it('names tomorrow while the night is still to come, and no day in the night itself', () => {
    const noonMs = EVENING_MS - 6 * H;
    const p = { ...projection(noonMs, 95.8, 37.6, 'holds'), nightStartMs: EVENING_MS };
    expect(say(p).text).toBe('60 % at sunrise, lowest 58 % at 08:35 tomorrow: the bank holds.');
    expect(say({ ...p, verdict: 'falls-short', belowFloorMs: EVENING_MS + 3 * H }).text).toMatch(/^Falls short at 21:06: lowest 58 % at 08:35 tomorrow/);
    expect(say({ ...p, nightStartMs: noonMs }).text).not.toContain('tomorrow');
  });

  it('names the day of a low point that is more than a day off, since the panels take over nowhere', () => {
    const p = projection(EVENING_MS, 95.8, 37.6, 'holds');
    const lowPoint = { ...p.lowPoint, tMs: EVENING_MS + 46 * H };
    expect(say({ ...p, takeover: null, nightEndMs: EVENING_MS + 48 * H, lowPoint }).text).toBe('61 % at sunrise, lowest 58 % at 16:06 26 Nov: the bank holds.');
  });

  it('leaves sunrise out where the sun does not rise', () => {
    expect(say({ ...projection(EVENING_MS, 95.8, 37.6, 'holds'), sunrise: null }).text).toBe('Lowest 58 % at 08:35: the bank holds.');
  });

  it('says what is missing before the first projection', () => {
    expect(say(null).text).toBe("Can't tell yet: no state of charge yet.");
  });
});

it('counts nights as people do and never promises all of them', () => {
  expect([0, 0.004, 0.01, 0.1, 0.3, 0.97, 0.994, 0.999, 1].map(chances)).toEqual([
    'fewer than 1 night in 100',
    'fewer than 1 night in 100',
    '1 night in 100',
    '1 night in 10',
    '3 nights in 10',
    '97 nights in 100',
    '99 nights in 100',
    'more than 99 nights in 100',
    'more than 99 nights in 100',
  ]);
});
