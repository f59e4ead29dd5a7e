import pino, { type Logger } from 'pino';
import { createLogRing, type LogRing } from './log-ring.ts';

interface Entry {
  readonly level: number;
  readonly time: number;
  readonly msg?: string;
}

/** Writes the program's log as lines for people, details behind them as JSON, and hands each to the ring, with what an error says for its details. */
export function createLog({ ring, write = (line) => process.stdout.write(line) }: { ring?: LogRing; write?: (line: string) => void } = {}): Logger {
  return pino(
    { base: null, level: 'info' },
    {
      write(json) {
        const { level, time, msg = '', ...details } = JSON.parse(json) as Entry & { err?: { message?: string } };
        const word = level >= 50 ? 'ERROR ' : level >= 40 ? 'warning: ' : '';
        const more = Object.keys(details).length > 0 ? ` ${JSON.stringify(details)}` : '';
        write(`${new Date(time).toISOString().slice(11, 19)} ${word}${msg}${more}\n`);
        const why = details.err?.message;
        ring?.add({ tMs: time, level: level >= 50 ? 'error' : level >= 40 ? 'warning' : 'info', text: why ? `${msg}: ${why}` : msg });
      },
    },
  );
}

/** The program's log, and its newest lines at hand. */
export interface ProgramLog {
  readonly lines: Logger;
  readonly ring: LogRing;
}

export function createProgramLog(): ProgramLog {
  const ring = createLogRing();
  return { lines: createLog({ ring }), ring };
}
