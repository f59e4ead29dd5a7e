import type { RigFile } from '../shared/schema/rig-file.ts';
import type { RigModel } from './types.ts';

/** What the engine needs of a rig file; `timeZone` is the one in force (from the file or looked up). */
export function rigModel(_file: RigFile, _timeZone: string): RigModel {
  throw new Error('coming');
}
