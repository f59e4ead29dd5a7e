import { ratios } from '../score/ratios.ts';
import { hasReference, RIGS } from '../score/reference.ts';
import { scoreRigs } from '../score/run.ts';
import type { Bar } from './bar.ts';

const VARIANT = { deviceSoc: true, forecast: false };

export const scoreBar: Bar = {
  name: 'score',
  what: 'projections of the recorded rigs against what really was',
  async measure() {
    if (!hasReference()) return 'there are no recordings with their truth in ../shared/recordings';
    const results = await scoreRigs(
      RIGS.map(({ rig }) => rig),
      VARIANT,
    );
    return ratios(results, VARIANT);
  },
};
