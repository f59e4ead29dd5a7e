import type { LogLine } from '../../../../shared/schema/alarm-book.ts';
import { PRIORITY_WORDS } from '../state/priority.ts';
import { spanText } from './age.ts';
import type { AlarmSetting, Titles } from './alarm-words.ts';
import { type Civil, civil, dateText } from './zone.ts';

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

/** Lines of one day of the rig's zone. */
export interface LogDay {
  /** "Today", "Yesterday", else "Sun 22 Nov". */
  readonly day: string;
  readonly lines: readonly LogLine[];
}

/** The lines by the day that they fall on, in the order they come in. */
export function logDays(lines: readonly LogLine[], { nowMs, zone }: AlarmSetting): readonly LogDay[] {
  const days: { day: string; lines: LogLine[] }[] = [];
  for (const line of lines) {
    const day = dayName(line.tMs, nowMs, zone);
    const last = days.at(-1);
    if (last?.day === day) last.lines.push(line);
    else days.push({ day, lines: [line] });
  }
  return days;
}

const midnight = ({ year, month, day }: Civil): number => Date.UTC(year, month - 1, day);

function dayName(tMs: number, nowMs: number, zone: string): string {
  const at = midnight(civil(tMs, zone));
  const ago = Math.round((midnight(civil(nowMs, zone)) - at) / 86_400_000);
  return ago === 0 ? 'Today' : ago === 1 ? 'Yesterday' : dateText(new Date(at).toISOString().slice(0, 10));
}

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
