import { describe, expect, it } from 'vitest';
import { boardsText, brokerText } from '../../../../dashboard/web/src/format/broker.ts';
import {
  bankClasses,
  bytesText,
  capacityText,
  codeLifeMs,
  coordinatesText,
  countdownText,
  leanText,
  nominalText,
  nominalWh,
} from '../../../../dashboard/web/src/format/rig-words.ts';

describe('a bank in words', () => {
  it('is called learned only when it has been', () => {
    expect(capacityText(null, 100)).toBe('100 Ah as you told it; nothing learned of it yet');
    expect(capacityText(96.6, 100)).toBe('97 Ah as learned, 100 Ah as you told it');
    expect([capacityText(96.6, null), capacityText(null, null)]).toEqual(['97 Ah as learned', 'not known yet']);
  });

  it('is told by its nominal voltage, and its class where it has one', () => {
    expect(nominalText('LiFePO4', 8)).toBe('8 × 3.2 V = 25.6 V nominal, a 24 V bank');
    expect(nominalText('AGM', 6)).toBe('6 × 2 V = 12 V nominal, a 12 V bank');
    expect(nominalText('NMC', 10)).toBe('10 × 3.6 V = 36 V nominal');
    for (const cells of [0, 4.5, Number.NaN]) expect(nominalText('LiFePO4', cells)).toBe('');
    expect(nominalText('other', 4)).toBe('');
  });

  it('of each class is within a sixth of the voltage it is sold as', () => {
    for (const chemistry of ['LiFePO4', 'AGM', 'NMC']) {
      expect(bankClasses(chemistry).length).toBeGreaterThanOrEqual(2);
      for (const [volts, cells] of bankClasses(chemistry)) expect(Math.abs((nominalWh(chemistry, cells, 1) ?? 0) / volts - 1)).toBeLessThan(1 / 6);
    }
  });

  it('holds volts times amp-hours when new', () => {
    expect(nominalWh('LiFePO4', 8, 280)).toBeCloseTo(7168, 6);
    expect(nominalWh('LiFePO4', 8, Number.NaN)).toBeNull();
  });
});

it('tells how panels lie from the nose clockwise, and nothing of what is no angle', () => {
  expect(leanText(0, 90)).toBe('flat, so it faces no side');
  expect(leanText(15, 270)).toBe('leaning 15° to the left');
  expect(leanText(15, 90)).toBe('leaning 15° to the right');
  expect(leanText(20, 350)).toBe('leaning 20° to the front');
  expect(leanText(20, 220)).toBe('leaning 20° to the back left');
  expect(leanText(90, 180)).toBe('upright, facing to the back');
  expect([leanText(-1, 0), leanText(10, 400), leanText(Number.NaN, 0)]).toEqual(['', '', '']);
});

it('writes coordinates, bytes and what is left of a code', () => {
  expect(coordinatesText(39.6, -8.1)).toBe('39.6000° N, 8.1000° W');
  expect(coordinatesText(-33.9249, 18.4241)).toBe('33.9249° S, 18.4241° E');
  expect([0, 999, 812_000, 412e6, 24.6e9, 99.96e6].map(bytesText)).toEqual(['0 B', '999 B', '812 kB', '412 MB', '24.6 GB', '100 MB']);
  expect([580_000, 59_001, 0, -5].map(countdownText)).toEqual(['9:40', '1:00', '0:00', '0:00']);
});

it('counts a code by the time of the box, and by its ten minutes where that is another one', () => {
  expect(codeLifeMs(1_000_000, 700_000)).toBe(300_000);
  expect(codeLifeMs(1_000_000, 1_000_001)).toBe(600_000);
  expect(codeLifeMs(9_000_000, 0)).toBe(600_000);
});

describe('the broker in words', () => {
  it('says what boards must name, and who gets through', () => {
    expect(boardsText({ listen: '127.0.0.1', port: 1883 }, '192.168.1.20')).toEqual({
      address: '127.0.0.1, port 1883',
      who: 'Only programs on this box reach it; boards on the network do not yet.',
    });
    expect(boardsText({ listen: '0.0.0.0', port: 1884 }, '192.168.1.20').address).toBe('192.168.1.20, port 1884');
    expect(boardsText({ listen: '0.0.0.0', port: 1883 }, 'localhost').address).toBe('the address of this box, port 1883');
    expect(boardsText({ listen: '10.0.0.2', port: 1883 }, '192.168.1.20').address).toBe('10.0.0.2, port 1883');
  });

  it('says since when it is connected', () => {
    const health = { broker: 'lost', brokerSinceMs: 0, store: 'ok', messages: 0, readings: 0, rejected: 0, lastMessageMs: null } as const;
    expect(brokerText(health, 180_000)).toBe('Not connected for 3 min');
  });
});
