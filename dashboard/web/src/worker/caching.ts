/**
 * How the service worker answers a request. `through`: not at all, the browser asks the network as if there were no worker. Live state goes that way, so it never
 * comes out of a cache. `asset`: a file that carries its hash in its name, from the cache where it is. `screen`: the page itself, from the box where it answers soon.
 */
export type Way = 'through' | 'asset' | 'screen';

/** The page of the box is waited for this long before the kept one opens, ms. */
export const SCREEN_LIMIT_MS = 3000;
const PREFIX = 'dawnhold-screens-';

/** @param origin of the worker, such as https://rig:8350 */
export function wayOf({ method, url, mode }: { readonly method: string; readonly url: string; readonly mode: string }, origin: string): Way {
  const { origin: asked, pathname } = new URL(url);
  if (method !== 'GET' || asked !== origin || /^\/(api|socket\.io)(\/|$)/.test(pathname)) return 'through';
  if (pathname.startsWith('/assets/')) return 'asset';
  return mode === 'navigate' && !/\.[^/]*$/.test(pathname) ? 'screen' : 'through';
}

/** True for the page of the screens; false for a fault of the box, or for what another device or a portal of a foreign network answers in its place. */
export const isScreen = ({ ok, redirected, headers }: Pick<Response, 'ok' | 'redirected' | 'headers'>): boolean =>
  ok && !redirected && (headers.get('content-type') ?? '').startsWith('text/html') && headers.has('content-security-policy');

/** Name of the cache of one build. */
export const cacheName = (version: string): string => PREFIX + version;

/**
 * Caches of builds that nobody needs any more. The one before the present stays: pages that were opened with it may still load parts of themselves.
 * @param names all caches, oldest first
 */
export function outdated(names: readonly string[], current: string): readonly string[] {
  return names.filter((name) => name.startsWith(PREFIX) && name !== current).slice(0, -1);
}
