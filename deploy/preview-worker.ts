import { parentPort } from 'node:worker_threads';
import { createPreview, type Preview } from '../engine/alarms/preview.ts';
import type { PreviewAnswer, PreviewMessage } from './runtime/preview-thread.ts';

/** The thread that follows rules through the past. */
let preview: Preview | null = null;

function served(message: PreviewMessage): PreviewAnswer {
  if ('question' in message) preview = createPreview(message.question);
  else if ('past' in message) {
    preview?.enter(message.past);
    preview?.follow(message.past.fromMs, message.past.toMs);
  } else return { result: preview?.result() ?? null };
  return { result: null };
}

parentPort?.on('message', (message: PreviewMessage) => {
  let answer: PreviewAnswer;
  try {
    answer = served(message);
  } catch (error) {
    answer = { failed: error instanceof Error ? (error.stack ?? error.message) : String(error) };
  }
  parentPort?.postMessage(answer);
});
