import type { LogLine } from '../../../../shared/schema/alarm-book.ts';
import { PRIORITY_WORDS } from '../state/priority.ts';
import { spanText } from './age.ts';
import type { Titles } from './alarm-words.ts';
import { clockTime, dayText } from './zone.ts';

const DEEDS: Readonly<Record<Extract<LogLine, { kind: 'change' }>['deed'], string>> = {
  raised: 'raised',
  worse: 'got worse',
  eased: 'eased',
  'out-of-sight': 'could not be told any more',
  returned: 'over',
  acknowledged: 'acknowledged',
  shelved: 'shelved',
  unshelved: 'back from the shelf',
  'held-back': 'held back by its cause',
  'let-go': 'no longer held back',
  'out-of-service': 'taken out of service',
  'in-service': 'back in service',
};

const OUTCOMES: Readonly<Record<Extract<LogLine, { kind: 'delivery' }>['state'], string>> = {
  waiting: 'waiting',
  delivered: 'taken',
  failed: 'failed',
  expired: 'too late to send',
  replaced: 'replaced by newer news',
  received: 'shown on the device',
};

/** A line of the log in words: what happened, by whom or to whom, and what more is known. */
export interface LogWords {
  readonly what: string;
  readonly who: string;
  readonly more: string;
}

export function logWords(line: LogLine, titles: Titles): LogWords {
  switch (line.kind) {
    case 'change':
      return {
        what: `${titles.get(line.id) ?? line.id}: ${DEEDS[line.deed]}`,
        who: line.by || 'the rules',
        more: `${PRIORITY_WORDS[line.priority]}. ${line.text}`,
      };
    case 'delivery': {
      const tries = line.attempts > 1 ? `, ${line.attempts} attempts` : '';
      return {
        what: `Told “${line.what}”: ${OUTCOMES[line.state]}`,
        who: line.targetName ? `${line.route}, ${line.targetName}` : line.route,
        more: `${line.reason}${tries}`.replace(/^, /, ''),
      };
    }
    default:
      return { what: line.what, who: line.by || 'the box', more: '' };
  }
}

/** "24 Nov 18:06". */
export const logTime = (tMs: number, zone: string): string => `${dayText(tMs, zone)} ${clockTime(tMs, zone)}`;

/** A span of the log, days back from now. */
export const LOG_SPANS = [
  [1, 'the last day'],
  [7, 'the last week'],
  [30, 'the last 30 days'],
  [365, 'the last year'],
] as const;

/** The query of the log as it goes in the address. */
export function logQuery(q: { fromMs: number; toMs: number; text: string; alarm: string; limit?: number; format?: 'csv' }): string {
  const asked = new URLSearchParams({ fromMs: String(q.fromMs), toMs: String(q.toMs), text: q.text.trim(), alarm: q.alarm });
  if (q.limit !== undefined) asked.set('limit', String(q.limit));
  if (q.format) asked.set('format', q.format);
  return asked.toString();
}

export const secondsText = (seconds: number | null): string => (seconds === null ? 'none yet' : spanText(seconds * 1000));
