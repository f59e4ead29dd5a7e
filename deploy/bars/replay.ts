import { spawn } from 'node:child_process';
import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { PROJECT_ROOT } from '../project.ts';
import { hasReference, REFERENCE } from '../score/reference.ts';
import type { Bar } from './bar.ts';

export const replayBar: Bar = {
  name: 'replay',
  what: 'replay of one recording of 24 days and 500,000 messages',
  async measure() {
    if (!hasReference()) return 'there are no recordings in ../shared/recordings';
    const folder = await mkdtemp(join(tmpdir(), 'dawnhold-bar-'));
    const args = [
      '--rig',
      join(PROJECT_ROOT, 'tests/fixtures/rigs/mesa.yaml'),
      '--recording',
      join(REFERENCE, 'mesa/messages.jsonl.gz'),
      '--out',
      join(folder, 'out.jsonl'),
    ];
    try {
      const said = await replaySaid(args);
      const match = /^(\d+) messages in ([\d.]+) s, at most (\d+) MB/m.exec(said);
      if (!match) throw new Error(`the replay said: ${said}`);
      return [
        { name: `replay of ${match[1]} messages`, figure: Number(match[2]), unit: 's', bar: 60, sense: 'most' },
        { name: 'peak memory of it', figure: Number(match[3]), unit: 'MB', bar: 400, sense: 'most' },
      ];
    } finally {
      await rm(folder, { recursive: true, force: true });
    }
  },
};

function replaySaid(args: readonly string[]): Promise<string> {
  const child = spawn(process.execPath, [...process.execArgv, process.argv[1] ?? '', 'replay', ...args], { stdio: ['ignore', 'ignore', 'pipe'] });
  let said = '';
  child.stderr.on('data', (chunk) => {
    said += chunk;
  });
  return new Promise((resolve, reject) => {
    child.on('error', reject);
    child.on('close', () => resolve(said));
  });
}
