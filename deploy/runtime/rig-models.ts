import lookUpZone from '@photostructure/tz-lookup';
import { rigModel } from '../../engine/rig-model.ts';
import type { RigModel } from '../../engine/types.ts';
import type { Reading } from '../../shared/schema/reading.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';

/** How far the rig must move before its time zone is looked up again, degrees. */
const MOVED_DEG = 0.1;

/** Keeps the engine's model of the rig in step with the rig file and with the time zone in which the rig stands. */
export interface RigModels {
  current(): RigModel;
  /** Notes where the rig is by its `place.*` readings. */
  follow(readings: readonly Reading[]): void;
  replaceFile(file: RigFile): void;
}

/** The time zone of a rig file stands; a rig that tells its position is looked up where it is; without either it is UTC. */
export function createRigModels(file: RigFile): RigModels {
  let current = rigModel(file, zoneAt(file, null));
  let rigFile = file;
  let at: { lat: number; lon: number } | null = null;
  let lat: number | null = null;
  let lon: number | null = null;
  return {
    current: () => current,
    follow(readings) {
      for (const { signal, value, quality } of readings) {
        if (quality !== 'ok') continue;
        if (signal === 'place.lat') lat = value;
        else if (signal === 'place.lon') lon = value;
      }
      if (lat === null || lon === null) return;
      if (at && Math.abs(at.lat - lat) < MOVED_DEG && Math.abs(at.lon - lon) < MOVED_DEG) return;
      at = { lat, lon };
      const zone = zoneAt(rigFile, at);
      if (zone !== current.timeZone) current = rigModel(rigFile, zone);
    },
    replaceFile(next) {
      rigFile = next;
      if (!next.signals.specs.has('place.lat') || !next.signals.specs.has('place.lon')) at = lat = lon = null;
      current = rigModel(next, zoneAt(next, at));
    },
  };
}

/** The time zone of a rig by its rig file alone. */
export const rigZone = (file: RigFile): string => zoneAt(file, null);

function zoneAt({ place }: RigFile, at: { lat: number; lon: number } | null): string {
  if (at) return lookUpZone(at.lat, ((((at.lon + 180) % 360) + 360) % 360) - 180);
  if (place?.timeZone) return place.timeZone;
  return place ? lookUpZone(place.latitude, place.longitude) : 'UTC';
}
