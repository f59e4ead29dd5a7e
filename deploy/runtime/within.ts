/** What is thrown when something takes too long. */
export class TooLong extends Error {}

/** Settles as the work does, or rejects with TooLong once it has taken `limitMs`. Whatever comes of it later is nobody's fault any more. */
export async function within<T>(work: Promise<T>, limitMs: number, what: string): Promise<T> {
  let timer: NodeJS.Timeout | undefined;
  const tooLong = new Promise<never>((_, reject) => {
    timer = setTimeout(() => reject(new TooLong(`${what} takes longer than ${limitMs / 1000} s`)), limitMs);
  });
  work.catch(() => {});
  try {
    return await Promise.race([work, tooLong]);
  } finally {
    clearTimeout(timer);
  }
}
