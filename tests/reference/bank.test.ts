import { describe, expect, it } from 'vitest';
import { bank } from '../../deploy/reference/bank.ts';
import { hasData } from '../../deploy/reference/figure.ts';

describe.skipIf(!hasData())('the state of charge of a measured cell', () => {
  it('is within a point at the next two full charges, wherever it began, and far nearer than counting on from a wrong start', async () => {
    const figures = await bank.measure();
    expect(figures.length).toBe(6);
    for (const { name, figure, bar, baselines } of figures) {
      expect(figure, name).toBeLessThan(bar);
      for (const counted of Object.values(baselines ?? {})) expect(figure, name).toBeLessThan(counted / 10);
    }
  });
});
