import { execFileSync } from 'node:child_process';
import { join } from 'node:path';
import { PROJECT_ROOT } from '../project.ts';
import type { Bar } from './bar.ts';
import { run, temporaryFolder, until, untilOpen } from './processes.ts';

interface Health {
  readonly lastMessageMs: number | null;
}

export const startBar: Bar = {
  name: 'start',
  what: 'npm start in a fresh clone to live data of the demo, and again',
  async measure() {
    const folder = await temporaryFolder();
    const clone = join(folder.path, 'clone');
    try {
      execFileSync('git', ['clone', '--quiet', PROJECT_ROOT, clone]);
      const first = await secondsToLive(clone);
      const second = await secondsToLive(clone);
      return [
        { name: 'first start, installing and compiling', figure: first, unit: 's', bar: 240, sense: 'most' },
        { name: 'second start', figure: second, unit: 's', bar: 6, sense: 'most' },
      ];
    } finally {
      await folder.remove();
    }
  },
};

/** Seconds from `npm start` to the first live message on the server. */
async function secondsToLive(clone: string): Promise<number> {
  const started = performance.now();
  const program = run('npm', ['start', '--', '--port', '0'], { cwd: clone });
  try {
    const url = await untilOpen(program, 'npm start');
    const startedMs = Date.now();
    await until(
      async () => {
        const answer = await fetch(`${url}/api/health`).catch(() => null);
        const { lastMessageMs } = answer?.ok ? ((await answer.json()) as Health) : { lastMessageMs: null };
        return lastMessageMs !== null && lastMessageMs > startedMs - 5000;
      },
      'live data',
      program.said,
    );
    return Math.round((performance.now() - started) / 100) / 10;
  } finally {
    await program.end();
  }
}
