import { hasData } from '../reference/figure.ts';
import { PARTS } from '../reference/parts.ts';
import type { Bar } from './bar.ts';

export const referenceBar: Bar = {
  name: 'reference',
  what: "the engine's models on open measured data",
  async measure() {
    if (!hasData()) return 'there is no measured data in ../shared/data';
    const figures = [];
    for (const part of PARTS)
      for (const { name, figure, unit, bar } of await part.measure())
        figures.push({ name: `${part.name}: ${name}`, figure, unit, bar, sense: 'most' as const });
    return figures;
  },
};
