import { describe, expect, it } from 'vitest';
import { hasData } from '../../deploy/reference/figure.ts';
import { takeovers, vectors } from '../../deploy/reference/panels/vectors.ts';
import { panels } from '../../deploy/reference/panels.ts';

describe.skipIf(!hasData())('the chain from sun to panel', () => {
  it('gives what the reference vectors say, within a thousandth', () => {
    const rows = vectors();
    expect(rows.length).toBe(37);
    for (const { name, got, wanted } of rows) expect(Math.abs(got - wanted), name).toBeLessThanOrEqual(1e-3 * Math.max(1e-3, Math.abs(wanted)));
  });

  it('takes over as many minutes after sunrise as the table of level panels says, and gives as much at noon', () => {
    const rows = takeovers();
    expect(rows.length).toBe(12);
    for (const { name, minutes, noon } of rows) {
      for (const { got, wanted } of minutes) {
        if (got === null || wanted === null) expect(got, name).toBe(wanted);
        else expect(Math.abs(got - wanted), name).toBeLessThanOrEqual(2);
      }
      expect(Math.abs(noon.got - noon.wanted), noon.name).toBeLessThan(0.002);
    }
  });

  it('comes within 5 % of clear days it has not learned from, in the desert, in high winters and on a foggy coast', async () => {
    const level = (await panels.measure()).filter(({ name }) => name.includes('clear day') && !name.includes('array'));
    expect(level.length).toBe(4);
    for (const { name, figure, bar } of level) expect(figure, name).toBeLessThan(bar);
  });
});
