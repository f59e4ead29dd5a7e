/**
 * Small notes that the page and its service worker share, kept in the browser's cache storage: the worker has no other plain one. Nothing of the rig's live state is among them.
 */
const STORE = 'dawnhold-notes';
const address = (key: string) => `/notes/${key}`;

/** Reads a note; null where there is none or the browser keeps none. */
export async function readNote<T>(key: string): Promise<T | null> {
  try {
    const found = await (await caches.open(STORE)).match(address(key));
    return found ? ((await found.json()) as T) : null;
  } catch {
    return null;
  }
}

/** Keeps a note; null removes it. A browser that keeps nothing forgets it, which nobody is to fail by. */
export async function writeNote(key: string, value: unknown): Promise<void> {
  try {
    const store = await caches.open(STORE);
    if (value === null) await store.delete(address(key));
    else await store.put(address(key), new Response(JSON.stringify(value), { headers: { 'content-type': 'application/json' } }));
  } catch {
    // As a browser without storage: the next push or visit does without the note.
  }
}
