import { parseRigFile } from '../../collector/config/load.ts';
import { storeFiles } from '../../collector/store/store-files.ts';
import { AppError, reasonOf } from '../../shared/errors.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import { ABOUT, BackupAbout } from './about.ts';

/** A backup that can be restored here. */
export interface CheckedBackup {
  readonly path: string;
  readonly about: BackupAbout;
  readonly file: RigFile;
  readonly nights: number;
}

const WHY = {
  newer: 'a newer Dawnhold took this backup; start that one, or a newer one, to restore it',
  foreign: 'this is no backup of Dawnhold; choose a file that "Back up" or npm run backup has made',
  damaged: 'this backup is damaged, perhaps cut off while it was copied; take another',
} as const;

/** Looks through a file that came from anywhere. BACKUP_INVALID with what is wrong with it. */
export async function checkBackup(path: string): Promise<CheckedBackup> {
  const { verdict, nights, about: body } = await storeFiles.inspect(path, ABOUT);
  if (verdict !== 'whole') throw new AppError('BACKUP_INVALID', WHY[verdict]);
  const about = aboutOf(body);
  const file = fileOf(about);
  // Folders are named by it.
  if (about.rigId !== file.rig.id) throw new AppError('BACKUP_INVALID', WHY.damaged);
  return { path, about, file, nights };
}

function fileOf({ rigFile }: BackupAbout): RigFile {
  try {
    return parseRigFile(rigFile, 'its rig file');
  } catch (cause) {
    throw new AppError('BACKUP_INVALID', `the rig file in this backup cannot be used here: ${reasonOf(cause)}`, { cause });
  }
}

function aboutOf(body: string | null): BackupAbout {
  if (body === null) throw new AppError('BACKUP_INVALID', WHY.foreign);
  let found: unknown;
  try {
    found = JSON.parse(body);
  } catch (cause) {
    throw new AppError('BACKUP_INVALID', WHY.damaged, { cause });
  }
  const parsed = BackupAbout.safeParse(found);
  if (parsed.success) return parsed.data;
  const { version } = (found ?? {}) as { version?: unknown };
  throw new AppError('BACKUP_INVALID', typeof version === 'number' && version > 1 ? WHY.newer : WHY.damaged);
}
