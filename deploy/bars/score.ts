import { ratios } from '../score/ratios.ts';
import { hasReference, RIGS } from '../score/reference.ts';
import { scoreRigs, type Variant } from '../score/run.ts';
import type { Bar } from './bar.ts';

const scoreBar = (name: string, what: string, variant: Variant): Bar => ({
  name,
  what: `projections of the recorded rigs against what really was, ${what}`,
  async measure() {
    if (!hasReference()) return 'there are no recordings with their truth in ../shared/recordings';
    const results = await scoreRigs(
      RIGS.map(({ rig }) => rig),
      variant,
    );
    return ratios(results, variant);
  },
});

export const scoreBars: readonly Bar[] = [
  scoreBar('score', "with the device's own state of charge, without a forecast", { deviceSoc: true, forecast: false }),
  scoreBar('score-forecast', 'with the recorded weather forecast', { deviceSoc: true, forecast: true }),
  scoreBar('score-no-device', "without the device's own state of charge", { deviceSoc: false, forecast: false }),
];
