import type { Alarm } from '../../../../shared/schema/alarm.ts';
import type { LogLine } from '../../../../shared/schema/alarm-book.ts';
import { spanText } from './age.ts';
import { clockTime, nextClockTime, otherDay } from './zone.ts';

/** What the words depend on. */
export interface AlarmSetting {
  readonly nowMs: number;
  readonly zone: string;
}

/** A moment as people say it: "21:40", "21:40 tomorrow", "21:40 24 Nov". */
export const momentText = (tMs: number, { nowMs, zone }: AlarmSetting): string => `${clockTime(tMs, zone)}${otherDay(tMs, nowMs, zone)}`;

/** When an alarm that stands was raised, by the log's lines, the newest first; null where they do not reach so far. */
export const raisedMs = (lines: readonly LogLine[], { id, sinceMs }: Alarm): number | null =>
  lines.find((line) => line.kind === 'change' && line.id === id && line.deed === 'raised' && line.tMs <= sinceMs)?.tMs ?? null;

/** "Raised 21:32, 9 min ago, acknowledged by Tablet at 21:34"; `raised` null: not known. */
export function acknowledgedText({ acknowledgedBy, sinceMs }: Alarm, raised: number | null, at: AlarmSetting): string {
  const deed = `cknowledged${acknowledgedBy ? ` by ${acknowledgedBy}` : ''} at ${momentText(sinceMs, at)}`;
  return raised === null ? `A${deed}` : `Raised ${momentText(raised, at)}, ${spanText(at.nowMs - raised)} ago · a${deed}`;
}

/** "came and went 4 times within the hour"; '' where it does not flap. */
export const flapText = (alarm: Alarm): string => (alarm.chattering ? `came and went ${alarm.raisesLastHour} times within the hour` : '');

/** "shelved till 19:06, another 58 min". */
export function shelvedText({ shelvedUntilMs }: Alarm, at: AlarmSetting): string {
  if (shelvedUntilMs === null) return 'shelved';
  return `shelved till ${momentText(shelvedUntilMs, at)}, another ${spanText(shelvedUntilMs - at.nowMs)}`;
}

/** Titles by id, for naming a cause. */
export type Titles = ReadonlyMap<string, string>;
export const titlesOf = (alarms: readonly { readonly id: string; readonly title: string }[]): Titles => new Map(alarms.map(({ id, title }) => [id, title]));

/** Why an alarm that does not stand openly is set aside, in words; '' when it is simply quiet. */
export function asideText(alarm: Alarm, titles: Titles, at: AlarmSetting): string {
  if (alarm.notWatched !== '') return `not watched: ${alarm.notWatched}`;
  if (alarm.suppression === 'shelved') return shelvedText(alarm, at);
  if (alarm.suppression === 'out-of-service') return 'taken out of service';
  if (alarm.suppression === 'by-design') {
    const cause = alarm.heldBackBy === null ? 'another alarm' : `“${titles.get(alarm.heldBackBy) ?? alarm.heldBackBy}”`;
    return `held back: ${cause} is its cause`;
  }
  return flapText(alarm);
}

export interface Aside {
  readonly title: string;
  readonly alarms: readonly Alarm[];
}

/** What is called of those that have nothing to say. */
export const QUIET = 'Watched and quiet';

/** The alarms that do not stand openly, by what sets them aside; groups without any are left out. */
export function asides(alarms: readonly Alarm[], standing: readonly Alarm[]): Aside[] {
  const rest = alarms.filter((alarm) => !standing.includes(alarm));
  const groupOf = (alarm: Alarm) => (alarm.notWatched !== '' ? 'not-watched' : alarm.suppression);
  const groups = [
    ['Shelved', 'shelved'],
    ['Held back by their cause', 'by-design'],
    ['Out of service', 'out-of-service'],
    ['Not watched on this rig', 'not-watched'],
    [QUIET, 'none'],
  ] as const;
  return groups.map(([title, key]) => ({ title, alarms: rest.filter((alarm) => groupOf(alarm) === key) })).filter((group) => group.alarms.length > 0);
}

export interface ShelveChoice {
  readonly label: string;
  readonly minutes: number;
  readonly untilMs: number;
}

/** For how long an alarm can be shelved: an hour, four, eight, and till the morning (`morning`, "07:00"), each with its end. */
export function shelveChoices(morning: string, { nowMs, zone }: AlarmSetting): ShelveChoice[] {
  const hours = [1, 4, 8].map((h) => ({ label: `For ${h} h`, minutes: 60 * h, untilMs: nowMs + h * 3_600_000 }));
  const untilMs = nextClockTime(morning, nowMs, zone);
  const minutes = untilMs === null ? 0 : Math.ceil((untilMs - nowMs) / 60_000);
  if (untilMs === null || minutes < 1 || minutes > 1440) return hours;
  return [...hours, { label: 'Till morning', minutes, untilMs }];
}
