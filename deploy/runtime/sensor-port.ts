import type { SensorPort } from '../../dashboard/server/ports.ts';
import { AppError } from '../../shared/errors.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import type { Core } from './core.ts';
import type { LiveView } from './live-view.ts';
import { zeroView } from './zero.ts';

export interface SensorPortOptions {
  readonly core: Pick<Core, 'pipeline'>;
  readonly view: Pick<LiveView, 'nowMs' | 'part'>;
  file(): RigFile;
}

/** What the screens ask about topics and signals, answered from memory. */
export function createSensorPort({ core: { pipeline }, view, file }: SensorPortOptions): SensorPort {
  return {
    topic(topic) {
      const found = pipeline.topic(topic);
      if (found === null) throw new AppError('NOT_FOUND', 'no message of this topic has been heard since the start');
      return found;
    },
    tryMapping: (question) => pipeline.tryMapping(question),
    zero({ signal, seconds }) {
      const now = view.nowMs();
      const facts = pipeline.zero(signal, now - seconds * 1000, now);
      if (facts === null) throw new AppError('NOT_FOUND', 'the rig file names no such signal; GET /api/sensors lists those it names');
      const sun = view.part('sun');
      return zeroView(signal, seconds, facts, file(), sun.known ? sun.isNight : null);
    },
  };
}
