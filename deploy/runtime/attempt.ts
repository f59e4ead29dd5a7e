import { reasonOf } from '../../shared/errors.ts';
import type { SendResult } from '../../shared/ports.ts';

/** No attempt takes longer, whatever the other side does. */
export const ATTEMPT_MS = 20_000;

/**
 * Makes one attempt. It ends with a result after 20 s at the latest, or when `closing` is aborted, even when `run` heeds no signal; what `run`
 * throws is a result too.
 */
export async function attempt(run: (signal: AbortSignal) => Promise<SendResult>, closing: AbortSignal): Promise<SendResult> {
  const own = new AbortController();
  return new Promise((resolve) => {
    const end = (result: SendResult): void => {
      clearTimeout(timer);
      closing.removeEventListener('abort', stop);
      own.abort();
      resolve(result);
    };
    const stop = (): void => end({ kind: 'later', reason: 'Dawnhold was stopped meanwhile' });
    const timer = setTimeout(() => end({ kind: 'later', reason: `no answer within ${ATTEMPT_MS / 1000} s` }), ATTEMPT_MS);
    if (closing.aborted) return stop();
    closing.addEventListener('abort', stop);
    (async () => run(own.signal))().then(end, (error: unknown) => end({ kind: 'later', reason: reasonOf(error) }));
  });
}
