import { statSync } from 'node:fs';
import { join } from 'node:path';
import type { StoreFacts } from '../../shared/ports.ts';
import type { RigBook } from '../../shared/schema/rig-book.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import { freeBytesOf } from '../backup/take.ts';
import type { EditPort } from './file-edits.ts';

/** What the book is made of. */
export interface RigBookFacts {
  readonly file: RigFile;
  /** The port for edits of the rig file; a text: why there is none. */
  readonly edits: EditPort | string;
  /** Null while there is no evidence. */
  readonly capacityLearnedAh: number | null;
  readonly versions: RigBook['versions'];
  readonly process: RigBook['process'];
  readonly storage: RigBook['storage'];
}

/** The rig file as the screens show and change it: without secrets, of which it has none, and without paths, which belong to the box. */
export function rigBook({ file, edits, ...box }: RigBookFacts): RigBook {
  const { rig, place, bank, inverter, panels, minisplit, broker, store, signals, routes } = file;
  const { caFile: _path, ...reached } = broker;
  return {
    hash: typeof edits === 'string' ? null : edits.current().hash,
    whyFixed: typeof edits === 'string' ? edits : '',
    setUp: !rig.settingUp,
    sections: { rig, place: place ?? null, bank, inverter: inverter ?? null, panels, minisplit: minisplit ?? null, broker: reached, store },
    signals: [...signals.specs].map(([name, spec]) => ({ name, spec })),
    forecast: signals.forecast,
    routes: Object.entries(routes).map(([name, { kind }]) => ({ name, kind })),
    ...box,
  };
}

/** Files of the embedded store beside its main one: what was written but not yet moved into it. */
const STORE_PARTS = ['', '-wal', '-shm'];

/** How much the store holds and how much room there is. */
export async function storageOf(kind: RigBook['storage']['kind'], folder: string, storeFile: string, facts: StoreFacts): Promise<RigBook['storage']> {
  const sizes = STORE_PARTS.map((part) => statSync(join(folder, storeFile + part), { throwIfNoEntry: false })?.size ?? 0);
  return {
    kind,
    bytes: kind === 'memory' ? 0 : sizes.reduce((sum, size) => sum + size, 0),
    freeBytes: await freeBytesOf(folder),
    oldestMs: facts.oldestMs,
    documents: facts.documents,
  };
}
