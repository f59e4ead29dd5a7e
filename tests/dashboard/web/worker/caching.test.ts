import { describe, expect, it } from 'vitest';
import { cacheName, isScreen, outdated, wayOf } from '../../../../dashboard/web/src/worker/caching.ts';

const BOX = 'https://rig:8350';
const get = (path: string, mode = 'cors', method = 'GET') => wayOf({ method, mode, url: new URL(path, BOX).href }, BOX);

describe('how a request is answered', () => {
  it.each(['/api', '/api/health', '/api/soc?fromMs=1', '/socket.io/?EIO=4', '/assets/../api/now'])('%s never comes out of a cache', (path) => {
    expect(get(path)).toBe('through');
    expect(get(path, 'navigate')).toBe('through');
  });

  it('files with a hash from the cache, the page from the box first, the rest as without a worker', () => {
    expect(get('/assets/index-abc.js', 'cors')).toBe('asset');
    expect(get('/', 'navigate')).toBe('screen');
    expect(get('/tonight', 'navigate')).toBe('screen');
    expect(get('/', 'cors')).toBe('through');
    expect(get('/sw.js', 'same-origin')).toBe('through');
    expect(get('/mark.svg', 'navigate')).toBe('through');
    expect(get('/assets/index-abc.js', 'cors', 'POST')).toBe('through');
    expect(get('https://elsewhere:8350/assets/index-abc.js')).toBe('through');
  });

  it.each([
    [200, 'text/html; charset=utf-8', "default-src 'self'", true],
    [503, 'text/html; charset=utf-8', "default-src 'self'", false],
    [200, 'application/json', "default-src 'self'", false],
    [200, 'text/html', null, false],
  ])('status %d, %s, policy %s: the page of the box or not', (status, type, policy, is) => {
    const headers = new Headers({ 'content-type': type, ...(policy === null ? {} : { 'content-security-policy': policy }) });
    expect(isScreen(new Response('', { status, headers }))).toBe(is);
    expect(isScreen({ ok: status === 200, redirected: true, headers })).toBe(false);
  });

  it('drops builds but the present one and the one before it, and nobody else’s caches', () => {
    const [a, b, c] = ['a', 'b', 'c'].map(cacheName) as [string, string, string];
    expect(outdated([a, 'dawnhold-notes', b, c], c)).toEqual([a]);
    expect(outdated([b, c], c)).toEqual([]);
    expect(outdated([c, a, b], c)).toEqual([a]);
  });
});
