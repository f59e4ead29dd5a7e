import { reasonOf } from '../../shared/errors.ts';
import type { Replacement } from '../backup/replacement.ts';
import { createProgramLog } from './log.ts';
import { type Run, type RunOptions, run } from './run.ts';
import type { Scene } from './scene.ts';

/**
 * Runs a scene, and anew with a backup in place of what it had when that is asked for. When the start with it fails, what was there before is
 * put back and run on.
 * @param makeScene  the scene as it is now, from its files
 * @param onEnd  told when neither can be started any more
 */
export async function keepRunning(makeScene: () => Promise<Scene>, options: RunOptions, onEnd: (error: unknown) => void): Promise<Run> {
  const log = createProgramLog();
  const { lines } = log;
  let port = options.port;
  let turn: Promise<void> = Promise.resolve();
  let stopped = false;
  const start = async () => run(await makeScene(), { ...options, port, log, onReplace, onReadable });
  let running: Run | null = await start();
  const { url } = running;
  // Screens that are open look for the same port.
  port = Number(new URL(url).port);

  function onReplace(replacement: Replacement): void {
    turn = turn.then(() => anew(replacement)).catch(onEnd);
  }

  function onReadable(): void {
    turn = turn
      .then(async () => {
        if (stopped) return;
        lines.info('starting anew with what was kept before');
        await stop();
        running = await start();
      })
      .catch(onEnd);
  }

  async function stop(): Promise<void> {
    const ending = running;
    running = null;
    await ending?.stop();
  }

  async function anew({ backup, put, back }: Replacement): Promise<void> {
    if (stopped) return;
    lines.info(`starting anew with the backup of ${backup.about.rigName}, taken ${new Date(backup.about.takenMs).toISOString().slice(0, 16)}Z`);
    try {
      await stop();
      await put();
      running = await start();
      lines.info('the backup is in place');
    } catch (error) {
      lines.error(`the backup could not be put in place, and all is as it was before: ${reasonOf(error)}`);
      await back();
      running = await start();
    }
  }

  return {
    url,
    async flush() {
      await running?.flush();
    },
    async stop() {
      stopped = true;
      await turn;
      await stop();
    },
  };
}
