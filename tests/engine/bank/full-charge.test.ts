import { describe, expect, it } from 'vitest';
import { chemistryOf } from '../../../engine/bank/chemistry.ts';
import { type FullRun, type FullWitness, fullFrac, stepFull } from '../../../engine/bank/full-charge.ts';

const LFP = chemistryOf({ chemistry: 'LiFePO4' });
const full: FullWitness = { tMs: 0, cellOcvV: 3.46, currentA: 3, meanCurrentA: 3, capacityAh: 200, socFrac: 0.98, socSd: 0.01 };

/** Minutes until the signs count as a full charge, of at most 120; null: never. */
function minutesUntilFull(at: (minute: number) => Partial<FullWitness>): number | null {
  let run: FullRun | null = null;
  for (let minute = 0; minute <= 120; minute++) {
    const seen = stepFull(run, { ...full, tMs: minute * 60_000, ...at(minute) }, LFP.full);
    if (seen.full) return minute;
    run = seen.run;
  }
  return null;
}

describe('a full charge', () => {
  it('is noticed when a full voltage and a small current have held for ten minutes', () => {
    expect(minutesUntilFull(() => ({}))).toBe(10);
  });

  it('must hold for an hour where counting says that the bank cannot be full', () => {
    expect(minutesUntilFull(() => ({ socFrac: 0.61, socSd: 0.02 }))).toBe(60);
    expect(minutesUntilFull(() => ({ socFrac: 0.61, socSd: 0.12 }))).toBe(10);
  });

  it.each([
    ['a voltage that weak sun reaches', { cellOcvV: 3.42 }],
    ['a bank that takes more than its tail current', { currentA: 9, meanCurrentA: 9 }],
    ['a bank that gives current', { meanCurrentA: -2 }],
  ])('is not seen in %s', (_, sign) => {
    expect(minutesUntilFull(() => sign)).toBeNull();
  });

  it('begins anew after any moment that does not look full, and while the voltage wanders', () => {
    expect(minutesUntilFull((minute) => (minute === 8 ? { currentA: 40, meanCurrentA: 40 } : {}))).toBe(19);
    expect(minutesUntilFull((minute) => ({ cellOcvV: 3.7 - 0.01 * Math.min(20, minute) }))).toBeGreaterThan(20);
  });

  it('is noticed sooner, and told for what is still missing, while a current dies away at a voltage that leaves no doubt', () => {
    const dying = { cellOcvV: 3.56, currentA: 16, meanCurrentA: 30 };
    expect(minutesUntilFull(() => dying)).toBe(5);
    expect(minutesUntilFull(() => ({ ...dying, cellOcvV: 3.47 }))).toBeNull();
    expect(fullFrac({ ...full, ...dying }, LFP.tail)).toBeCloseTo(1 - 0.27 * 0.03, 6);
    expect(fullFrac(full, LFP.tail)).toBe(1);
  });
});
