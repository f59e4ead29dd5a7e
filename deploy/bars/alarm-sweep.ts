import { sweepRatios } from '../score/ratios.ts';
import { hasReference, RIGS } from '../score/reference.ts';
import { scoreRigs } from '../score/run.ts';
import type { Bar } from './bar.ts';

export const alarmSweepBar: Bar = {
  name: 'alarm-sweep',
  what: 'the alarm low-point on the recorded rigs, had their owners set other floors',
  async measure() {
    if (!hasReference()) return 'there are no recordings with their truth in ../shared/recordings';
    return sweepRatios(
      await scoreRigs(
        RIGS.map(({ rig }) => rig),
        { deviceSoc: true, forecast: false },
      ),
    );
  },
};
