import { execFile } from 'node:child_process';
import { randomUUID } from 'node:crypto';
import { existsSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import { promisify } from 'node:util';
import type { MachineFacts } from '../runtime/clock.ts';

/** How often the system is asked whether a time server has set its clock, until one has, ms. */
const ASK_EVERY_MS = 10_000;
const ASK_LIMIT_MS = 5_000;

/** Files and commands of a Linux system that tell of its clock. */
export interface MachinePlaces {
  readonly bootIdFile: string;
  /** There when the machine has a clock chip. */
  readonly chip: string;
  /** Touched by the system's own time service when it has set the clock. */
  readonly syncedFile: string;
  /** Prints `yes` or `no`, whichever service sets the clock. */
  readonly ask: readonly [command: string, ...args: string[]];
}

const LINUX: MachinePlaces = {
  bootIdFile: '/proc/sys/kernel/random/boot_id',
  chip: '/sys/class/rtc/rtc0',
  syncedFile: '/run/systemd/timesync/synchronized',
  ask: ['timedatectl', 'show', '--property=NTPSynchronized', '--value'],
};

/**
 * What the machine tells of its clock. Where it cannot tell whether a time server has set it, as in a container, it is taken to keep the
 * time.
 */
export async function machineClock(places: MachinePlaces = LINUX): Promise<MachineFacts> {
  const bootId = await readFile(places.bootIdFile, 'utf8').then(
    (text) => text.trim().replace(/[^0-9a-f-]/g, ''),
    () => '',
  );
  const [command, ...args] = places.ask;
  const ask = promisify(execFile);
  let synced = false;
  let canTell = existsSync(places.syncedFile);
  let askedMs = Number.NEGATIVE_INFINITY;

  async function look(): Promise<void> {
    askedMs = performance.now();
    if (existsSync(places.syncedFile)) synced = true;
    else {
      const said = await ask(command, args, { timeout: ASK_LIMIT_MS }).then(
        ({ stdout }) => stdout.trim(),
        () => '',
      );
      if (said === 'yes' || said === 'no') canTell = true;
      synced ||= said === 'yes';
    }
  }

  await look();
  return {
    bootId: bootId === '' ? randomUUID() : bootId,
    keepsTime: bootId === '' || !canTell || existsSync(places.chip),
    isSynced() {
      if (!synced && canTell && performance.now() - askedMs > ASK_EVERY_MS) void look();
      return synced;
    },
    // Linux counts from the start of the machine; elsewhere the count means nothing beyond this program, and need not.
    monoMs: () => Number(process.hrtime.bigint() / 1000n) / 1000,
  };
}
