import { dirname } from 'node:path';
import { setTimeout } from 'node:timers/promises';
import { loadRigFile } from '../../collector/config/load.ts';
import type { MessageSource, SourceHandlers } from '../../collector/mqtt/source.ts';
import { STEP_MS } from '../../engine/types.ts';
import { AppError, reasonOf } from '../../shared/errors.ts';
import type { EpochMs } from '../../shared/units.ts';
import { keptIn } from '../project.ts';
import { readRecording } from '../recording/read.ts';
import { pacedClock, type RigClock } from '../runtime/clock.ts';
import type { Scene } from './scene.ts';

/** A recording played live: its messages arrive at its own times, by a clock that begins with its first message and may run faster. */
export async function recordingScene(rigPath: string, recording: string, pace: number, data: string | undefined): Promise<Scene> {
  const { file } = await loadRigFile(rigPath);
  const dataFolder = data ?? keptIn(`${file.rig.id}-recording`);
  const clock = heldClock(await firstTimeOf(recording), pace);
  return {
    clock,
    facts: { demo: false, recorded: true, pace },
    dataFolder,
    rigFolder: dirname(rigPath),
    // What an earlier playing kept lies in this one's future.
    startsAfresh: data === undefined,
    file,
    lookBack: { ms: 0, filled: false },
    past: async () => [],
    watch: async () => {},
    edits: () => 'a recording is played, and its rig file stays as it is, so that the same comes out of it; edit the file by hand and play it again',
    backed: 'a recording is played: what it holds is in its file, and what is worked out from it can be worked out again',
    source: async () => playerOf(recording, clock, pace),
    begin: async () => {},
    end: async () => {},
  };
}

/** A clock that never runs past the next message, so that what is played live is exactly what a replay gets. */
interface HeldClock extends RigClock {
  holdAt(tMs: EpochMs): void;
}

function heldClock(startMs: EpochMs, pace: number): HeldClock {
  const free = pacedClock(startMs, pace);
  let heldMs = startMs;
  return {
    now() {
      const time = free.now();
      const wallMs = Math.min(time.wallMs, heldMs);
      return { ...time, wallMs, monoMs: wallMs - startMs };
    },
    doubt: () => null,
    holdAt(tMs) {
      heldMs = Math.max(heldMs, tMs);
    },
  };
}

async function firstTimeOf(recording: string): Promise<EpochMs> {
  for await (const [first] of readRecording(recording, { onBadLine: () => {} })) if (first) return first.tMs;
  throw new AppError('RECORDING_INVALID', `${recording} holds no message; expected JSON lines as npm run record writes them`);
}

/** Plays the messages when the clock reaches them. */
function playerOf(recording: string, clock: HeldClock, pace: number): MessageSource {
  const stopping = new AbortController();
  const { signal } = stopping;
  let playing: Promise<void> = Promise.resolve();

  async function play({ onMessage, onStatus }: SourceHandlers): Promise<void> {
    onStatus('connected', 'playing a recording');
    let badLines = 0;
    const onBadLine = () => {
      badLines += 1;
    };
    for await (const batch of readRecording(recording, { onBadLine })) {
      for (const message of batch) {
        clock.holdAt(message.tMs);
        for (let waitMs = message.tMs - clock.now().wallMs; waitMs > 0 && !signal.aborted; waitMs = message.tMs - clock.now().wallMs) {
          await setTimeout(Math.min(waitMs / pace, 1000), undefined, { signal }).catch(() => {});
        }
        if (signal.aborted) return;
        onMessage(message);
      }
    }
    // Time ends with the recording, once what its last messages bring has been worked out: silence after it is not the rig's.
    clock.holdAt(clock.now().wallMs + 2 * STEP_MS);
    onStatus('lost', `the recording has ended${badLines > 0 ? `; ${badLines} lines of it could not be read` : ''}`);
  }

  return {
    async start(handlers) {
      playing = play(handlers).catch((error: unknown) => handlers.onStatus('lost', reasonOf(error)));
    },
    async stop() {
      stopping.abort();
      await playing;
    },
    publish: async () => Promise.reject(new Error('a recording has no broker to publish to')),
  };
}
