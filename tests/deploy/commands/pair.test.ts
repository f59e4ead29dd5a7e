import { mkdir, utimes, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { temporaryFolder } from '../../../deploy/bars/processes.ts';
import { demoFolder } from '../../../deploy/commands/pair.ts';
import { STORE_FILE } from '../../../deploy/start/data-folder.ts';

test("a code without a rig file is for the demo that ran last, at life's pace or faster", async () => {
  const root = await temporaryFolder();
  try {
    const used = async (name: string, file: string, seconds: number) => {
      await mkdir(join(root.path, name), { recursive: true });
      await writeFile(join(root.path, name, file), '');
      await utimes(join(root.path, name, file), seconds, seconds);
    };
    expect(demoFolder(root.path)).toBe(join(root.path, '_demo'));
    await used('_demo-paced', STORE_FILE, 1000);
    expect(demoFolder(root.path)).toBe(join(root.path, '_demo-paced'));
    await used('_demo', STORE_FILE, 2000);
    expect(demoFolder(root.path)).toBe(join(root.path, '_demo'));
    await used('_demo-paced', `${STORE_FILE}-wal`, 3000);
    expect(demoFolder(root.path)).toBe(join(root.path, '_demo-paced'));
  } finally {
    await root.remove();
  }
});
