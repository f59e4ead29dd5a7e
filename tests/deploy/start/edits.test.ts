import { cp, mkdtemp, readFile, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import { demoScene } from '../../../deploy/start/demo-scene.ts';
import { rigScene } from '../../../deploy/start/rig-scene.ts';
import type { Scene } from '../../../deploy/start/scene.ts';
import type { RigFile } from '../../../shared/schema/rig-file.ts';

const BUILT_IN = fileURLToPath(new URL('../../../deploy/demo/heron.yaml', import.meta.url));

let folder: string;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'dawnhold-scene-'));
});
afterEach(() => rm(folder, { recursive: true, force: true }));

/** What an edit of the floor puts in force. */
async function editedIn(scene: Scene): Promise<RigFile[]> {
  const inForce: RigFile[] = [];
  await scene.watch((file) => void inForce.push(file));
  const port = scene.edits();
  if (typeof port === 'string') throw new TypeError(port);
  await port.edit([{ path: ['bank', 'floor'], value: 44 }], port.current().hash);
  await scene.end(createMemoryStore());
  return inForce;
}

describe('edits by command', () => {
  test('of the demo are of its copy, once it is there, and leave the built-in file alone', async () => {
    const before = await readFile(BUILT_IN, 'utf8');
    const scene = await demoScene(1, folder);
    expect(scene.edits()).toMatch(/still starting/);
    expect((await editedIn(scene)).at(-1)?.bank.floor).toBe(44);
    expect(await readFile(BUILT_IN, 'utf8')).toBe(before);
    expect((await demoScene(1, folder)).file.bank.floor).toBe(44);
  });

  test('of a rig are of its own file', async () => {
    const path = join(folder, 'rig.yaml');
    await cp(BUILT_IN, path);
    expect((await editedIn(await rigScene(path, folder))).at(-1)?.bank.floor).toBe(44);
    expect(await readFile(path, 'utf8')).toContain('floor: 44');
  });
});
