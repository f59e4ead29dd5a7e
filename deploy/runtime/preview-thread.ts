import type { Worker } from 'node:worker_threads';
import { startThread } from '../../collector/store/thread.ts';
import { createPreview, type PreviewQuestion } from '../../engine/alarms/preview.ts';
import type { StoredPast } from '../../engine/alarms/preview-past.ts';
import type { RulePreview } from '../../shared/schema/rule-preview.ts';

/** Follows rules through the past, one at a time. */
export interface PreviewRunner {
  /** @param stretches  what is stored, in order and without gaps */
  run(question: PreviewQuestion, stretches: AsyncIterable<StoredPast>): Promise<RulePreview>;
  close(): Promise<void>;
}

/** What goes to the thread: a question, then its stretches, then that there are no more. */
export type PreviewMessage = { readonly question: PreviewQuestion } | { readonly past: StoredPast } | { readonly isOver: true };
/** It says when it is through with each of them. */
export type PreviewAnswer = { readonly result: RulePreview | null } | { readonly failed: string };

/** A thread without work is ended after so long, ms: it would hold some tens of megabytes. */
const IDLE_MS = 60_000;
/** Stretches that wait in the thread beside the one it is at, so that it never waits for the store. */
const AHEAD = 2;

/** Works previews out where the caller is: for tests, which have nobody waiting. */
export const previewHere: PreviewRunner = {
  async run(question, stretches) {
    const preview = createPreview(question);
    for await (const past of stretches) {
      preview.enter(past);
      preview.follow(past.fromMs, past.toMs);
    }
    return preview.result();
  },
  close: async () => undefined,
};

/** Works them out in a thread of their own, so that neither readings nor projections wait for them. One that dies is replaced at the next preview. */
export function createPreviewThread(): PreviewRunner {
  let thread: Worker | null = null;
  let idle: NodeJS.Timeout | null = null;

  function ready(): Worker {
    if (idle) clearTimeout(idle);
    if (thread) return thread;
    const started = startThread('../preview-worker', import.meta.url, null);
    // Without a listener an error would end the whole program; whoever waits hears of the end.
    started.on('error', () => undefined);
    started.once('exit', () => {
      if (thread === started) thread = null;
    });
    thread = started;
    return started;
  }

  async function end(): Promise<void> {
    const ending = thread;
    thread = null;
    await ending?.terminate();
  }

  return {
    async run(question, stretches) {
      const talk = talkWith(ready());
      try {
        talk.say({ question });
        for await (const past of stretches) {
          talk.say({ past }, columnsOf(past));
          await talk.openAtMost(AHEAD);
        }
        talk.say({ isOver: true });
        return await talk.result;
      } catch (error) {
        // What it is in the middle of must not mix with the next question.
        await end();
        throw error;
      } finally {
        talk.over();
        idle = setTimeout(() => void end(), IDLE_MS).unref();
      }
    },
    async close() {
      if (idle) clearTimeout(idle);
      await end();
    },
  };
}

/** One question's talk with the thread; all of it rejects when the thread fails or ends. */
function talkWith(worker: Worker) {
  let open = 0;
  let wake = () => {};
  let answered: (result: RulePreview) => void = () => {};
  let failed: (error: Error) => void = () => {};
  const result = new Promise<RulePreview>((resolve, reject) => {
    answered = resolve;
    failed = reject;
  });
  result.catch(() => undefined);
  const hear = (answer: PreviewAnswer) => {
    open -= 1;
    if ('failed' in answer) failed(new Error(`a preview failed in its thread: ${answer.failed}`));
    else if (answer.result) answered(answer.result);
    wake();
  };
  const ended = () => failed(new Error('the thread for previews ended'));
  worker.on('message', hear).once('exit', ended);
  return {
    result,
    say(message: PreviewMessage, transfer: readonly ArrayBuffer[] = []) {
      open += 1;
      worker.postMessage(message, transfer);
    },
    /** Waits until it is through with all but so many messages. */
    async openAtMost(count: number) {
      while (open > count) await Promise.race([new Promise<void>((resolve) => (wake = resolve)), result]);
    },
    over: () => void worker.off('message', hear).off('exit', ended),
  };
}

/** Columns are handed over, not copied. */
const columnsOf = ({ signals }: StoredPast): ArrayBuffer[] =>
  [...signals.values()].flatMap(({ min, mean, max }) => [min, mean, max].map(({ buffer }) => buffer as ArrayBuffer));
