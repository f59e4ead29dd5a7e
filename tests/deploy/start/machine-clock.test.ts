import { chmod, mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { machineClock } from '../../../deploy/start/machine-clock.ts';

let folder: string;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'dawnhold-machine-'));
});
afterEach(() => rm(folder, { recursive: true, force: true }));

const at = (name: string) => join(folder, name);

async function machine(files: { bootId?: string; chip?: boolean; synced?: boolean; says?: string }) {
  if (files.bootId !== undefined) await writeFile(at('boot_id'), files.bootId);
  if (files.chip) await writeFile(at('rtc0'), '');
  if (files.synced) await writeFile(at('synchronized'), '');
  if (files.says !== undefined) {
    await writeFile(at('ask'), `#!/bin/sh\necho ${files.says}\n`);
    await chmod(at('ask'), 0o755);
  }
  return machineClock({ bootIdFile: at('boot_id'), chip: at('rtc0'), syncedFile: at('synchronized'), ask: [at('ask')] });
}

test.each([
  ['no chip, not set by a server', { bootId: 'a-1\n', says: 'no' }, { bootId: 'a-1', keepsTime: false }, false],
  ['no chip, set by a server', { bootId: 'a-1', says: 'yes' }, { keepsTime: false }, true],
  ['no chip, the file of the time service there', { bootId: 'a-1', synced: true }, { keepsTime: false }, true],
  ['a chip, not set by a server', { bootId: 'a-1', chip: true, says: 'no' }, { keepsTime: true }, false],
  ['nothing that can tell', { bootId: 'a-1' }, { keepsTime: true }, false],
  ['no Linux', {}, { keepsTime: true }, false],
])('%s', async (_words, files, facts, synced) => {
  const found = await machine(files);
  expect(found).toMatchObject(facts);
  expect(found.isSynced()).toBe(synced);
  expect(found.bootId).toMatch(/^[0-9a-f-]+$/);
});

test('the machine has run for longer than this program', async () => {
  expect((await machine({ bootId: 'a-1' })).monoMs()).toBeGreaterThan(0);
});
