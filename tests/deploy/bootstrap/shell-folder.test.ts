import { existsSync } from 'node:fs';
import { mkdir, readFile, writeFile } from 'node:fs/promises';
import { join, resolve } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { run, temporaryFolder, untilOpen } from '../../../deploy/bars/processes.ts';
import { firstFile } from '../../../deploy/start/first-file.ts';
import { ROOT } from '../../helpers/source-files.ts';

const BOOTSTRAP = join(ROOT, 'deploy/bootstrap.mjs');
const NEW = ['--rig', 'blue-wren.yaml', '--new', '--data', 'kept', '--port', '0'];

/** Where the person's shell stands: not in the project. */
let folder: Awaited<ReturnType<typeof temporaryFolder>>;
beforeEach(async () => {
  folder = await temporaryFolder();
});
afterEach(() => folder.remove());

test.each([
  ['npm', ['--prefix', ROOT, 'start', '--', ...NEW]],
  [process.execPath, [BOOTSTRAP, 'start', ...NEW]],
])('files that are named to %s are those where the shell stands', async (program, args) => {
  const started = run(program, args, { cwd: folder.path });
  try {
    await untilOpen(started, 'the screens');
    expect(await readFile(join(folder.path, 'blue-wren.yaml'), 'utf8')).toBe(firstFile('blue-wren.yaml'));
    expect(existsSync(join(folder.path, 'kept/rig.sqlite'))).toBe(true);
  } finally {
    await started.end();
  }
});

test('another npm further up does not say where the shell stands', async () => {
  await writeFile(join(folder.path, 'blue-wren.yaml'), firstFile('blue-wren.yaml'));
  await mkdir(join(folder.path, 'elsewhere'));
  const env = { ...process.env, npm_lifecycle_event: 'test', INIT_CWD: join(folder.path, 'elsewhere') };
  const pair = run(process.execPath, [BOOTSTRAP, 'pair', '--rig', 'blue-wren.yaml'], { cwd: folder.path, env });
  await pair.ended;
  // The file is found; what the rig has told is looked for under the project, from wherever it is asked.
  const where = /there is no rig's data in (\S+);/.exec(pair.said())?.[1];
  expect(where, pair.said()).toBeDefined();
  expect(resolve(folder.path, where ?? '')).toBe(join(ROOT, '.data/blue-wren'));
});
