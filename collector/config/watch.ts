import { type FSWatcher, watch } from 'node:fs';
import { basename, dirname } from 'node:path';

/** Editors write in several steps; look when they have come to rest, ms. */
export const REST_MS = 150;
/** Where the system tells nothing (network drives, some containers), look this often, ms. */
const POLL_MS = 5000;

/**
 * Calls `look` soon after a file may have changed, and every 5 s anyway. It watches the folder, since editors replace the file itself.
 * Keeps no process alive.
 */
export function watchFile(path: string, look: () => void): { close(): void } {
  let rest: NodeJS.Timeout | null = null;
  let watcher: FSWatcher | null = null;
  const poll = setInterval(look, POLL_MS);
  poll.unref();
  try {
    watcher = watch(dirname(path), { persistent: false }, (_, name) => {
      if (name !== null && name !== basename(path)) return;
      if (rest !== null) clearTimeout(rest);
      rest = setTimeout(look, REST_MS);
      rest.unref();
    });
    // Too many watches, or the folder gone: the poll goes on.
    watcher.on('error', () => watcher?.close());
  } catch {
    watcher = null;
  }
  return {
    close() {
      clearInterval(poll);
      if (rest !== null) clearTimeout(rest);
      watcher?.close();
    },
  };
}

/**
 * What a file holds once nobody writes to it: reads until two readings in a row agree, `rest` between them. Half a file may be a valid
 * one without what was to follow, and an emptied one is about to be filled. `known` tells a text that needs no second look.
 */
export async function textAtRest(read: () => Promise<string>, known: (text: string) => boolean, rest: () => Promise<void>): Promise<string> {
  for (let text = await read(); ; ) {
    if (known(text)) return text;
    await rest();
    const again = await read();
    if (again === text) return text;
    text = again;
  }
}
