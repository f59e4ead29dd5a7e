import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout } from 'node:timers/promises';
import type { Bar } from '../bars/bar.ts';
import { run, temporaryFolder, untilOpen } from '../bars/processes.ts';
import { PROJECT_ROOT } from '../project.ts';

/** By then what the start needed is given back, ms. */
const STEADY_MS = 180_000;
const SAMPLES = 10;
const BETWEEN_MS = 1000;

/** Resident memory of a process with all its threads, MB. */
const residentMb = (pid: number): number => Number(/VmRSS:\s+(\d+) kB/.exec(readFileSync(`/proc/${pid}/status`, 'utf8'))?.[1] ?? Number.NaN) / 1024;

/** Starts the demo as a person does, and looks at its memory when it has run for a while: the middle of some seconds, MB. */
async function steadyMb(folder: string): Promise<number> {
  const program = run('npm', ['start', '--silent', '--', '--port', '0', '--data', join(folder, 'data')], { cwd: PROJECT_ROOT });
  try {
    await untilOpen(program, 'the demo');
    await setTimeout(STEADY_MS);
    const samples: number[] = [];
    for (let count = 0; count < SAMPLES; count += 1) {
      samples.push(residentMb(nodeOf(program.child.pid ?? 0)));
      await setTimeout(BETWEEN_MS);
    }
    return samples.sort((a, b) => a - b)[SAMPLES / 2] ?? Number.NaN;
  } finally {
    process.kill(nodeOf(program.child.pid ?? 0));
    await program.ended;
  }
}

/** The program itself under npm and its shell. */
function nodeOf(pid: number): number {
  const children = readFileSync(`/proc/${pid}/task/${pid}/children`, 'utf8').trim();
  return children === '' ? pid : nodeOf(Number(children.split(' ')[0]));
}

export const memoryBench: Bar = {
  name: 'memory',
  what: 'resident memory of the demo rig, three minutes after its screens can be opened',
  async measure() {
    if (process.platform !== 'linux') return 'the memory of a process is read from /proc, which only Linux has';
    const folder = await temporaryFolder();
    try {
      const first = await steadyMb(folder.path);
      const second = await steadyMb(folder.path);
      return [
        { name: 'first start, which lives through three weeks', figure: Math.round(first), unit: 'MB', bar: 160, sense: 'most' },
        { name: 'second start', figure: Math.round(second), unit: 'MB', bar: 160, sense: 'most' },
      ];
    } finally {
      await folder.remove();
    }
  },
};
