import { type FSWatcher, watch } from 'node:fs';
import { basename, dirname } from 'node:path';

/** Editors write in several steps; look when they have come to rest, ms. */
const REST_MS = 150;
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
