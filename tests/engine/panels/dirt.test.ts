import { describe, expect, it } from 'vitest';
import { findDirt } from '../../../engine/panels/dirt.ts';
import { FIRST_DAY_MS, type Moment, panelDays } from '../../helpers/panel-days.ts';

const DAY_MS = 86_400_000;
const DAYS = 30;
const atMs = FIRST_DAY_MS + DAYS * DAY_MS;
const found = (share: (moment: Moment) => number, sinceMs = 0) => findDirt(panelDays(DAYS, share), atMs, sinceMs);

describe('dirt on the panels', () => {
  it('H13: is not spoken of while it costs a few percent', () => {
    expect(found(({ day }) => (day < 9 ? 0.85 : 0.85 * 0.96))).toBeNull();
    expect(found(() => 0.85)).toBeNull();
  });

  it('shows as a loss that lasts and is alike from morning to evening, also after moving', () => {
    const dirt = found(({ day }) => (day < 15 ? 0.85 : 0.85 * 0.86), atMs - 5 * DAY_MS);
    expect(dirt?.lossFrac).toBeCloseTo(0.14, 2);
    expect(dirt?.evidence).toBe('14 % less on 10 clear days, alike from morning to evening, and the same after moving');
  });

  it('is not taken from a few days, a rinsed panel, shade in the afternoon, or cloud', () => {
    expect(found(({ day }) => (day < 27 ? 0.85 : 0.7))).toBeNull();
    expect(found(({ day }) => (day > 14 && day < 26 ? 0.7 : 0.85))).toBeNull();
    expect(found(({ day, hour }) => (day > 14 && hour > 13 ? 0.78 : 0.85))).toBeNull();
    expect(found(({ day, hour }) => (day > 14 ? 0.3 + 0.1 * Math.sin(day + hour) : 0.85))).toBeNull();
  });
});
