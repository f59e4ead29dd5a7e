import { isDeepStrictEqual } from 'node:util';
import { createPipeline, type Pipeline } from '../../collector/ingest/pipeline.ts';
import { signalTopicsOf } from '../../collector/mqtt/make-source.ts';
import { entryOf } from '../../collector/store/entry-of.ts';
import { AppError } from '../../shared/errors.ts';
import type { Message, Reading } from '../../shared/schema/reading.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';

/** What the rig files of one collector must say alike, since there is one of it. */
const ALIKE = ['broker', 'copyTo', 'store'] as const;

/** What was heard of all rigs since the start. */
export interface FleetCounts {
  readonly messages: number;
  readonly readings: number;
  readonly rejected: number;
}

/** Messages of many rigs to readings, each with its rig's id. */
export interface Fleet {
  /** The readings that a message gives, of every rig that names its topic. */
  accept(message: Message): readonly Reading[];
  counts(): FleetCounts;
}

/** Throws REQUEST_INVALID where rig files cannot be collected together. */
export function checkFleet(files: readonly RigFile[]): void {
  const [first] = files;
  if (first?.broker.url === undefined) throw new AppError('REQUEST_INVALID', 'collectors need an outside broker: set broker.url in the rig files');
  if (first.copyTo === undefined) throw new AppError('REQUEST_INVALID', 'a collector sends what it hears to a server: set copyTo in the rig files');
  for (const { rig, ...file } of files) {
    for (const key of ALIKE) {
      if (!isDeepStrictEqual(file[key], first[key]))
        throw new AppError('REQUEST_INVALID', `${key} of ${rig.id} is not that of ${first.rig.id}: one collector has one; start another for it`);
    }
    if (files.filter((other) => other.rig.id === rig.id).length > 1)
      throw new AppError('REQUEST_INVALID', `two rig files have the id ${rig.id}; their readings could not be told apart`);
  }
}

export function createFleet(files: readonly RigFile[]): Fleet {
  const pipelines = files.map((file) => createPipeline(file));
  const readersOf = new Map<string, Pipeline[]>();
  for (const [at, file] of files.entries())
    for (const topic of signalTopicsOf(file)) entryOf(readersOf, topic, (): Pipeline[] => []).push(pipelines[at] as Pipeline);
  let messages = 0;
  return {
    accept(message) {
      messages += 1;
      const [first, ...others] = readersOf.get(message.topic) ?? [];
      const readings = first?.accept(message).readings ?? [];
      return others.length === 0 ? readings : [...readings, ...others.flatMap((other) => other.accept(message).readings)];
    },
    counts: () => {
      const healths = pipelines.map((pipeline) => pipeline.health());
      const sumOf = (key: 'readings' | 'rejected') => healths.reduce((sum, health) => sum + health[key], 0);
      return { messages, readings: sumOf('readings'), rejected: sumOf('rejected') };
    },
  };
}
