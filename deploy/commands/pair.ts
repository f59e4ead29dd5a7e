import { existsSync, statSync } from 'node:fs';
import { join } from 'node:path';
import { type Command, Option } from 'commander';
import { loadRigFile } from '../../collector/config/load.ts';
import { createSqliteStore } from '../../collector/store/sqlite.ts';
import { createPairing, type Pairing } from '../../dashboard/server/pairing.ts';
import { AppError } from '../../shared/errors.ts';
import type { Role } from '../../shared/schema/pairing.ts';
import { DEMO_FOLDER, PACED_DEMO_FOLDER } from '../demo/folders.ts';
import { keptIn } from '../project.ts';
import { STORE_FILE } from '../start/data-folder.ts';

interface Options {
  readonly rig?: string;
  readonly data?: string;
  readonly role: Role;
  readonly list: boolean;
  readonly revoke?: string;
}

/** Adds `pair`: a short-lived code by which a device on the LAN is let in; also lists devices and takes rights back. */
export function addPair(program: Command): void {
  program
    .command('pair')
    .description('print a code, good for ten minutes, that lets one tablet or phone in')
    .option('--rig <file>', 'rig file of the rig; left out: the demo rig')
    .option('--data <folder>', 'data folder of the rig; left out: .data/<rig id>, for the demo the one last in use')
    .addOption(new Option('--role <role>', 'what the device may do').choices(['viewer', 'operator']).default('operator'))
    .option('--list', 'list the paired devices instead', false)
    .option('--revoke <device id>', 'forget a device instead')
    .action(pair);
}

async function pair(options: Options): Promise<void> {
  const folder = options.data ?? (options.rig === undefined ? demoFolder(keptIn()) : keptIn((await loadRigFile(options.rig)).file.rig.id));
  const path = join(folder, STORE_FILE);
  if (!existsSync(path))
    throw new AppError('NOT_FOUND', `there is no rig's data in ${folder}; start the rig once, or name its folder with --data or its file with --rig`);
  const store = createSqliteStore({ path, log: { warn: (_details, message) => console.error(message) }, guest: true });
  await store.open();
  try {
    await act(createPairing({ store, nowMs: () => Date.now() }), options);
  } finally {
    await store.close();
  }
}

/** The demo's data folder under `root` that was written to last: faster than life it has one of its own. */
export function demoFolder(root: string): string {
  const usedMs = (folder: string) =>
    Math.max(...['', '-wal'].map((part) => statSync(join(folder, STORE_FILE + part), { throwIfNoEntry: false })?.mtimeMs ?? 0));
  const [own, paced] = [join(root, DEMO_FOLDER), join(root, PACED_DEMO_FOLDER)] as const;
  return usedMs(paced) > usedMs(own) ? paced : own;
}

async function act(pairing: Pairing, { role, list, revoke }: Options): Promise<void> {
  if (revoke !== undefined) {
    if (!(await pairing.revoke(revoke))) throw new AppError('NOT_FOUND', `no device has the id ${revoke}; npm run pair -- --list shows them`);
    console.log('Forgotten.');
  } else if (list) {
    const devices = await pairing.devices();
    if (devices.length === 0) console.log('No device is paired.');
    for (const { deviceId, name, role: may, lastSeenMs } of devices)
      console.log(`${deviceId}  ${may.padEnd(8)}  seen ${new Date(lastSeenMs).toISOString().slice(0, 16)}Z  ${name}`);
  } else {
    const { code } = await pairing.createCode(role);
    console.log(
      `Code: ${code}\nOpen the rig's page on the device within ten minutes and type it in. It works once (${role}). A code made before no longer counts.`,
    );
  }
}
