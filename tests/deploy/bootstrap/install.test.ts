import { execFile } from 'node:child_process';
import { chmod, mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { delimiter, join } from 'node:path';
import { promisify } from 'node:util';
import { expect, test } from 'vitest';

test('without a terminal npm is asked for no spinner, and each step is one line', async () => {
  const folder = await mkdtemp(join(tmpdir(), 'dawnhold-install-'));
  try {
    // A stand-in for npm that notes what it is called with and installs nothing.
    await writeFile(join(folder, 'npm'), `#!/bin/sh\necho "$@" >> '${join(folder, 'called')}'\nexit 1\n`);
    await chmod(join(folder, 'npm'), 0o755);
    const script = `import { install } from ${JSON.stringify(new URL('../../../deploy/bootstrap/install.mjs', import.meta.url).href)}; await install();`;
    const failed = await promisify(execFile)(process.execPath, ['--input-type=module', '-e', script], {
      cwd: folder,
      env: { ...process.env, PATH: `${folder}${delimiter}${process.env.PATH}` },
    }).then(
      () => null,
      (error: { stdout: string; stderr: string }) => error,
    );
    expect((await readFile(join(folder, 'called'), 'utf8')).trim().split(' ')).toEqual(expect.arrayContaining(['ci', '--no-progress']));
    expect(failed?.stdout.trim().split('\n')).toHaveLength(1);
    expect(failed?.stderr).toMatch(/^npm could not install the packages; what it said stands above/);
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
});
