import type { MessageSource } from '../../collector/mqtt/source.ts';
import type { RigStore } from '../../shared/ports.ts';
import type { Message } from '../../shared/schema/reading.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import type { EpochMs } from '../../shared/units.ts';
import type { BoxClock, RigClock } from '../runtime/clock.ts';
import type { EditPort } from '../runtime/file-edits.ts';
import type { LookBack } from '../runtime/resume.ts';
import type { RunFacts } from '../runtime/status.ts';

/** What a backup is made of, and what it is restored to. */
export interface Backed {
  readonly rigPath: string;
  /** The data folder for what is kept of a rig; a text: why a backup of that rig cannot be restored here. */
  folderFor(rigId: string): { readonly folder: string } | string;
}

/** What is run: a person's rig, the demo, or a recording played live. The rest of the program is the same for all. */
export interface Scene {
  readonly clock: RigClock;
  /** The same, where it is the box's own and the box may not know the time. */
  readonly boxClock?: BoxClock;
  readonly facts: RunFacts;
  readonly dataFolder: string;
  /** What relative paths in the rig file start from. */
  readonly rigFolder: string;
  /** True when what an earlier run kept there is dropped. */
  readonly startsAfresh: boolean;
  /** The rig file in force at the start. */
  readonly file: RigFile;
  readonly lookBack: LookBack;
  /** Messages of a time that has passed, after `afterMs` and up to `untilMs`; asked for once the store is open. */
  past(store: RigStore, afterMs: EpochMs | null, untilMs: EpochMs): Promise<Iterable<Message>>;
  /** Watches what may change while the rig runs. */
  watch(onChange: (file: RigFile, fault: string | null) => void): Promise<void>;
  /** The port for edits by command; a text: why there are none here, or none yet. */
  edits(): EditPort | string;
  /** A text: why nothing can be backed up or restored. */
  readonly backed: Backed | string;
  /** Where messages come from; asked for again when what it depends on changes in the rig file. */
  source(file: RigFile): Promise<MessageSource>;
  /** Begins what only this scene has, once messages are taken. */
  begin(store: RigStore): Promise<void>;
  /** Ends it, while the store is still open. */
  end(store: RigStore): Promise<void>;
}
