import type { DocumentStore } from '../../shared/ports.ts';
import type { EpochMs } from '../../shared/units.ts';

type Documents = Awaited<ReturnType<DocumentStore['list']>>;

/** Documents of a kind with fromMs <= tMs < toMs, newest first, read a page at a time so that a long past is never held at once. */
export async function* newestFirst(store: DocumentStore, kind: string, fromMs: EpochMs, toMs: EpochMs, pageSize = 250): AsyncGenerator<Documents[number]> {
  let untilMs = toMs;
  let size = pageSize;
  for (;;) {
    const page = await store.list(kind, fromMs, untilMs, size);
    const oldestMs = page[0]?.tMs;
    if (page.length < size || oldestMs === undefined) {
      yield* page.toReversed();
      return;
    }
    // Others of the oldest moment may lie beyond the page: all of that moment come with the next one.
    const whole = page.filter(({ tMs }) => tMs > oldestMs);
    yield* whole.toReversed();
    if (whole.length === 0) size *= 2;
    untilMs = oldestMs + 1;
  }
}
