import { execFileSync } from 'node:child_process';
import { closeSync, mkdtempSync, openSync, rmSync, statfsSync, truncateSync, writeFileSync, writeSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';

/** A real file system of a few megabytes, on a disk image of its own, which lies in memory. */
export interface SmallDisk {
  readonly path: string;
  /** Takes up all of its room, and gives it back. */
  fill(): void;
  free(): void;
  /** The kernel finds an error and lets nothing be written any more, as with a dying card. */
  breakDown(): void;
  /** What is under it takes nothing new: writing ends in an I/O error. And it does again. */
  failWrites(): void;
  healWrites(): void;
  /** Mounts it anew at the same place, repaired, under whoever uses it. */
  mend(): void;
  /** Mounts it for reading alone, or for writing too; nobody may be using it for writing. */
  remount(how: 'ro' | 'rw'): void;
  close(): void;
}

const run = (program: string, ...args: string[]): string => execFileSync(program, args, { encoding: 'utf8', stdio: ['ignore', 'pipe', 'pipe'] }).trim();

/** Writes to a file until its disk is full. */
function takeAll(path: string): void {
  const file = openSync(path, 'a');
  // What is left by large pieces is taken up by small ones.
  for (const bytes of [1 << 20, 1 << 12, 1]) {
    const piece = Buffer.alloc(bytes);
    try {
      for (;;) writeSync(file, piece);
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code !== 'ENOSPC') throw error;
    }
  }
  closeSync(file);
}

/** Makes one; null where this is not allowed: it takes root, loop devices and ext4. */
export function openSmallDisk(megabytes = 16): SmallDisk | null {
  const folder = mkdtempSync(join(tmpdir(), 'dawnhold-disk-'));
  const [under, path] = [join(folder, 'under'), join(folder, 'disk')];
  const [image, ballast] = [join(under, 'image'), join(under, 'ballast')];
  const loops: string[] = [];
  const filler = join(path, 'filler');

  function mount(): void {
    const loop = run('losetup', '--find', '--show', image);
    loops.push(loop);
    run('mount', '-o', 'errors=remount-ro', loop, path);
  }
  function letGo(): void {
    run('umount', '-l', path);
    // It goes when the last who uses it has gone.
    for (const loop of loops.splice(0)) run('losetup', '--detach', loop);
  }

  function leave(): void {
    try {
      run('umount', '-l', under);
    } catch {
      // It was never mounted.
    }
    rmSync(folder, { recursive: true });
  }

  try {
    run('mkdir', under, path);
    run('mount', '-t', 'tmpfs', '-o', `size=${megabytes + 4}m`, 'tmpfs', under);
    writeFileSync(image, '');
    truncateSync(image, megabytes * 1024 * 1024);
    run('mkfs.ext4', '-q', '-F', '-m', '0', '-O', '^has_journal', image);
    mount();
  } catch {
    for (const loop of loops) run('losetup', '--detach', loop);
    leave();
    return null;
  }
  return {
    path,
    fill() {
      takeAll(filler);
      if (statfsSync(path).bavail > 0) throw new Error('the disk is not full');
    },
    free: () => rmSync(filler),
    breakDown: () => writeFileSync(`/sys/fs/ext4/${basename(loops.at(-1) ?? '')}/trigger_fs_error`, 'on purpose'),
    failWrites: () => takeAll(ballast),
    healWrites: () => rmSync(ballast),
    mend() {
      letGo();
      try {
        run('e2fsck', '-p', '-f', image);
      } catch (error) {
        // 1: errors were found and mended.
        if ((error as { status?: number }).status !== 1) throw error;
      }
      mount();
    },
    remount: (how) => void run('mount', '-o', `remount,${how}`, path),
    close() {
      letGo();
      leave();
    },
  };
}
