import type { Alarm, Priority } from '../../shared/schema/alarm.ts';
import type { Notice } from '../../shared/schema/notice.ts';
import type { EpochMs } from '../../shared/units.ts';
import { clockText } from '../clock.ts';
import type { Stop } from './call.ts';
import type { Telling } from './plan.ts';

const MIN_MS = 60_000;
const HOUR_MS = 60 * MIN_MS;

/** How long a notice about an alarm is worth something when nothing tells; while the alarm stands it is renewed. */
const WORTH_MS: Readonly<Record<Priority, number>> = { low: 12 * HOUR_MS, medium: 6 * HOUR_MS, high: 2 * HOUR_MS, critical: HOUR_MS };
/** A notice about something that is under way already is still tried for so long. */
const LEAST_WORTH_MS = 10 * MIN_MS;
const OVER_WORTH_MS = 2 * HOUR_MS;

/** What all notices of a moment share. */
export interface Letterhead {
  readonly rigName: string;
  readonly nowMs: EpochMs;
  readonly timeZone: string;
}

/** A notice but for its id. */
export type Draft = Omit<Notice, 'noticeId'>;

/** An alarm and its occurrence, as devices tell one piece of news from another. */
export const eventIdOf = (alarmId: string, occurrence: number): string => `${alarmId}-${occurrence}`;

const cut = (text: string, length: number): string => (text.length <= length ? text : `${text.slice(0, length - 3).trimEnd()}...`);

/** Any notice; texts that are too long are cut. */
export function draft(
  part: Pick<Draft, 'eventId' | 'kind' | 'priority' | 'title' | 'text' | 'expiresMs'> & Partial<Draft>,
  { rigName, nowMs, timeZone }: Letterhead,
): Draft {
  return {
    alarmId: null,
    occurrence: null,
    helps: [],
    rigName,
    issuedMs: nowMs,
    issuedText: clockText(timeZone, nowMs),
    canAcknowledge: false,
    ...part,
    title: cut(part.title, 100),
    text: cut(part.text, 500),
  };
}

/** When a notice about an alarm is worth nothing any more. `eventMs`: when what it warns of is over or has come; null: nothing tells. */
export const expiryMs = (priority: Priority, eventMs: EpochMs | null, nowMs: EpochMs): EpochMs =>
  eventMs === null ? nowMs + WORTH_MS[priority] : Math.max(eventMs, nowMs + LEAST_WORTH_MS);

/** What of a notice follows its alarm while it waits. */
export const wordsOf = (alarm: Alarm, why: Telling['why'], standsMs: number): Pick<Notice, 'priority' | 'title' | 'text' | 'helps'> => ({
  priority: alarm.priority,
  title: cut(alarm.title, 100),
  text: cut(`${leadText(alarm, why, standsMs)}${alarm.text}`, 500),
  helps: [...alarm.helps],
});

function leadText({ raisesLastHour }: Alarm, why: Telling['why'], standsMs: number): string {
  if (why === 'flaps') return `It came and went ${raisesLastHour} times within the hour. `;
  if (why === 'raised' || standsMs < MIN_MS) return '';
  return `Nobody has acknowledged it for ${spanText(standsMs)}. `;
}

function spanText(spanMs: number): string {
  const minutes = Math.round(spanMs / MIN_MS);
  if (minutes < 60) return `${minutes} min`;
  return minutes % 60 === 0 ? `${minutes / 60} h` : `${Math.floor(minutes / 60)} h ${minutes % 60} min`;
}

/** The notice of an alarm that somebody is called about. */
export function alarmDraft({ alarm, why, standsMs }: Telling, eventMs: EpochMs | null, letterhead: Letterhead): Draft {
  return draft(
    {
      ...wordsOf(alarm, why, standsMs),
      eventId: eventIdOf(alarm.id, alarm.occurrence),
      kind: 'alarm',
      alarmId: alarm.id,
      occurrence: alarm.occurrence,
      expiresMs: expiryMs(alarm.priority, eventMs, letterhead.nowMs),
      canAcknowledge: true,
    },
    letterhead,
  );
}

/** The quiet notice that an alarm is over, or needs nobody any more. */
export function overDraft({ alarmId, occurrence, title, text, over, reason }: Stop, letterhead: Letterhead): Draft {
  const said = reason.charAt(0).toUpperCase() + reason.slice(1);
  return draft(
    {
      eventId: eventIdOf(alarmId, occurrence),
      kind: 'returned',
      alarmId,
      occurrence,
      priority: 'low',
      title: over ? `Over: ${title}` : title,
      text: over && text !== '' ? text : `${said}.`,
      expiresMs: letterhead.nowMs + OVER_WORTH_MS,
    },
    letterhead,
  );
}
