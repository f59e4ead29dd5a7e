import type { EpochMs } from '../../../../shared/units.ts';

/** A page that was loaded again without getting another build waits this long before it is loaded once more, ms. */
const AGAIN_MS = 3_600_000;
/** A page may live for this long before it is loaded afresh, ms: close to a week, so that the seventh noon counts. */
const LIFE_MS = 6.5 * 86_400_000;

/** The build that the page was last loaded again from, and when by the device's clock. */
export interface ReloadNote {
  readonly build: string;
  readonly atMs: EpochMs;
}

/** Paths of the files that an index page of ours names. */
export const assetsOf = (html: string): string[] => [...html.matchAll(/["'](\/assets\/[^"']+)["']/g)].map((match) => match[1] ?? '');

/** True when an index page names a file that the open page does not have; a page that names none is not ours. */
export const isOtherBuild = (html: string, loaded: ReadonlySet<string>): boolean => assetsOf(html).some((path) => !loaded.has(path));

/** Whether loading the page again may help: not when the same build came back from the box less than an hour ago. A clock that was set counts as an hour. */
export function mayReload(note: ReloadNote | null, build: string, nowMs: EpochMs): boolean {
  return note === null || note.build !== build || Math.abs(nowMs - note.atMs) >= AGAIN_MS;
}

/** Reads what was noted; null for anything else. */
export function reloadNoteOf(text: string | null): ReloadNote | null {
  const note = JSON.parse(text ?? 'null') as Partial<ReloadNote> | null;
  return typeof note?.build === 'string' && typeof note.atMs === 'number' ? (note as ReloadNote) : null;
}

/**
 * Whether a page is due to be loaded afresh: once a week, in the hour after the rig's noon, when most is well and nobody sleeps.
 * @param livedMs how long the page has been open
 * @param clock time of day in the rig, "12:05"
 * @param isQuiet no alarm waits for anybody, nobody is watched over, and the box speaks
 */
export function isDue({ livedMs, clock, isQuiet }: { livedMs: number; clock: string; isQuiet: boolean }): boolean {
  return isQuiet && livedMs >= LIFE_MS && clock.startsWith('12:');
}
