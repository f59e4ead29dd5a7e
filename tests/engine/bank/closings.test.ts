import { describe, expect, it } from 'vitest';
import { closingRemark, explainClosings, steadyUnseenA } from '../../../engine/bank/closings.ts';

const daily = (...errorsAh: number[]) => errorsAh.map((errorAh, i) => ({ tMs: i * 86_400_000, errorAh }));

describe('what does not close at full charges', () => {
  it('is a load past the shunt where Ah are missing every day', () => {
    const cause = explainClosings(daily(-17, -18, -19, -18), 0, 300);
    expect(cause?.cause).toBe('load past the shunt');
    expect(cause?.currentA).toBeCloseTo(-0.75, 6);
    expect(cause && closingRemark(cause)).toContain('0.8 A more than the shunt sees leaves the bank');
  });

  it('is still that load once the count has learned it as an offset and closes well', () => {
    expect(explainClosings(daily(-6, 0.4, -0.3, 0.2), -0.75, 300)?.cause).toBe('load past the shunt');
  });

  it('is an offset or a charger where Ah are left over every day', () => {
    expect(explainClosings(daily(9, 10, 8), 0, 300)?.cause).toBe('offset or charger past the shunt');
  });

  it('is the capacity or the gain where it lies on either side', () => {
    expect(explainClosings(daily(14, -15, 12, -13), 0, 300)?.cause).toBe('capacity or gain');
  });

  it('needs no cause while it is small, and none is given before three full charges', () => {
    expect(explainClosings(daily(1, -2, 1, 2), 0.05, 300)).toBeNull();
    expect(explainClosings(daily(-18, -18), 0, 300)).toBeNull();
  });

  it('S08: is projected with once it is plain, and by what the count has learned of it', () => {
    expect(steadyUnseenA(daily(-6, 0.4, -0.3, 0.2), -0.75, 300)).toBe(-0.75);
    expect(steadyUnseenA(daily(1, -2, 1, 2), 0.05, 300)).toBe(0);
    expect(steadyUnseenA(daily(14, -15, 12, -13), 0.05, 300)).toBe(0);
  });
});
