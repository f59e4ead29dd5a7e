import type { LogLines } from '../../shared/schema/rig-book.ts';
import { withoutFolders } from '../runtime/without-folders.ts';

type LogLine = LogLines[number];

/** Lines kept. */
const MOST_LINES = 1000;
const MOST_CHARS = 2000;

/** The newest lines of the log, for the screens. */
export interface LogRing {
  add(line: LogLine): void;
  /** The newest lines, oldest first. */
  newest(limit: number): LogLines;
}

export function createLogRing(mostLines = MOST_LINES): LogRing {
  let lines: LogLine[] = [];
  return {
    add({ tMs, level, text }) {
      lines.push({ tMs, level, text: withoutFolders(text).slice(0, MOST_CHARS) });
      // Cut now and then, not at each line.
      if (lines.length >= 2 * mostLines) lines = lines.slice(-mostLines);
    },
    newest: (limit) => lines.slice(-Math.min(limit, mostLines)),
  };
}
