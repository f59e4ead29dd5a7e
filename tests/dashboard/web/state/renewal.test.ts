import { describe, expect, it } from 'vitest';
import { assetsOf, isDue, isOtherBuild, mayReload, reloadNoteOf } from '../../../../dashboard/web/src/state/renewal.ts';

const NOW_MS = Date.UTC(2026, 10, 27, 12);
const DAY_MS = 86_400_000;
const index = (...names: string[]) => names.map((name) => `<script type="module" src="/assets/${name}"></script>`).join('\n');

describe('another build', () => {
  const loaded = new Set(['/assets/index-a.js', '/assets/index-a.css', '/assets/Rig-a.js']);

  it('is one that names a file the page does not have', () => {
    expect(assetsOf(index('index-a.js', 'index-a.css'))).toEqual(['/assets/index-a.js', '/assets/index-a.css']);
    expect(isOtherBuild(index('index-a.js', 'index-a.css'), loaded)).toBe(false);
    expect(isOtherBuild(index('index-b.js', 'index-a.css'), loaded)).toBe(true);
    expect(isOtherBuild(index('index-a.js', 'index-b.css'), loaded)).toBe(true);
  });

  it('is not what a portal or an error answers', () => {
    expect(isOtherBuild('<title>Welcome to the harbour</title>', loaded)).toBe(false);
    expect(isOtherBuild('', loaded)).toBe(false);
  });
});

describe('loading again', () => {
  const note = { build: 'a', atMs: NOW_MS };

  it('waits an hour where the same build came back, and not where another did', () => {
    expect(mayReload(null, 'a', NOW_MS)).toBe(true);
    expect(mayReload(note, 'a', NOW_MS + 3_599_999)).toBe(false);
    expect(mayReload(note, 'a', NOW_MS + 3_600_000)).toBe(true);
    expect(mayReload(note, 'b', NOW_MS + 1000)).toBe(true);
  });

  it('is not barred for years by a clock that was set back', () => {
    expect(mayReload(note, 'a', NOW_MS - 365 * DAY_MS)).toBe(true);
  });

  it('reads only the note that it wrote', () => {
    expect(reloadNoteOf(JSON.stringify(note))).toEqual(note);
    for (const text of [null, '"yes"', '{}', '{"build":1,"atMs":2}']) expect(reloadNoteOf(text)).toBeNull();
  });
});

describe('the weekly loading', () => {
  const due = { livedMs: 7 * DAY_MS, clock: '12:20', isQuiet: true };

  it('comes in the hour after noon, after a week, in quiet', () => {
    expect(isDue(due)).toBe(true);
    expect(isDue({ ...due, livedMs: 6 * DAY_MS })).toBe(false);
    expect(isDue({ ...due, clock: '03:12' })).toBe(false);
    expect(isDue({ ...due, clock: '13:00' })).toBe(false);
    expect(isDue({ ...due, isQuiet: false })).toBe(false);
  });
});
