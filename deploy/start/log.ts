import pino, { type Logger } from 'pino';

/** Writes the program's log as lines for people; details follow as JSON. */
export function createLog(write: (line: string) => void = (line) => process.stdout.write(line)): Logger {
  return pino(
    { base: null, level: 'info' },
    {
      write(json) {
        const { level, time, msg, ...details } = JSON.parse(json) as { level: number; time: number; msg?: string };
        const word = level >= 50 ? 'ERROR ' : level >= 40 ? 'warning: ' : '';
        const more = Object.keys(details).length > 0 ? ` ${JSON.stringify(details)}` : '';
        write(`${new Date(time).toISOString().slice(11, 19)} ${word}${msg ?? ''}${more}\n`);
      },
    },
  );
}
