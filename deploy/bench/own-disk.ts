import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { basename, join } from 'node:path';

/** A disk of our own on a file, with a file system on it: all that is written to it is ours, the file system's own journal included. */
export interface OwnDisk {
  readonly folder: string;
  /** Bytes that reached the device so far, all that is held back included. */
  written(): number;
  /** Cuts the power: what was not flushed to the device is lost, and nothing can be written any more. */
  cut(): void;
  /** Brings the disk back after a cut, when nobody holds a file on it open any more. */
  back(): void;
  remove(): void;
}

const SECTOR_BYTES = 512;
/** The ioctl by which ext4 and others go down at once, and its way without a flush of the journal (linux/ext4.h, EXT4_IOC_SHUTDOWN). */
const SHUTDOWN = 0x8004587d;
const WITHOUT_FLUSH = 2;

/** Null where it cannot be made: it needs root and loop devices. */
export function makeOwnDisk(megabytes: number): OwnDisk | null {
  const place = mkdtempSync(join(tmpdir(), 'dawnhold-disk-'));
  const image = join(place, 'image');
  const folder = join(place, 'on');
  const run = (command: string, ...args: string[]): string =>
    execFileSync(command, args, { stdio: ['ignore', 'pipe', 'ignore'] })
      .toString()
      .trim();
  let device = '';
  try {
    writeFileSync(image, '');
    run('truncate', '-s', `${megabytes}M`, image);
    run('mkfs.ext4', '-q', '-b', '4096', '-E', 'lazy_itable_init=0,lazy_journal_init=0', image);
    run('mkdir', folder);
    device = run('losetup', '--find', '--show', image);
    run('mount', device, folder);
  } catch {
    if (device !== '') run('losetup', '-d', device);
    rmSync(place, { recursive: true });
    return null;
  }
  return {
    folder,
    written() {
      run('sync', '-f', folder);
      const fields = readFileSync(`/sys/block/${basename(device)}/stat`, 'utf8')
        .trim()
        .split(/\s+/);
      return Number(fields[6]) * SECTOR_BYTES;
    },
    cut() {
      run('perl', '-e', `open(F, "<", $ARGV[0]) or die; my $how = pack("L", ${WITHOUT_FLUSH}); ioctl(F, ${SHUTDOWN}, $how) or die "$!"`, folder);
    },
    back() {
      run('umount', folder);
      run('mount', device, folder);
    },
    remove() {
      // Also after a failure, with a file on it still open or nothing mounted: an error of its own would hide the one that matters.
      for (const [command, ...args] of [['umount', '-l', folder] as const, ['losetup', '-d', device] as const]) {
        try {
          run(command, ...args);
        } catch {}
      }
      rmSync(place, { recursive: true });
    },
  };
}
