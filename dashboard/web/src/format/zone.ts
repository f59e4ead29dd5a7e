import { type Civil, civil, fromCivil, offsetMs } from '../../../../shared/civil.ts';
import type { EpochMs } from '../../../../shared/units.ts';

export { type Civil, civil, fromCivil, offsetMs };

/** The next moment at which a zone's wall clock shows "HH:MM"; a minute that has just begun counts as now. Null when the text is no time. */
export function nextClockTime(text: string, nowMs: EpochMs, zone: string): EpochMs | null {
  const [hour, minute] = /^(\d{1,2}):(\d{2})$/.exec(text.trim())?.slice(1).map(Number) ?? [];
  if (hour === undefined || minute === undefined || hour > 23 || minute > 59) return null;
  const { year, month, day } = civil(nowMs, zone);
  const at = (days: number) => fromCivil(year, month, day + days, hour, zone) + minute * 60_000;
  return at(0) > nowMs - 60_000 ? at(0) : at(1);
}

const two = (n: number) => String(n).padStart(2, '0');

/** "18:06" in a zone. */
export function clockTime(tMs: EpochMs, zone: string): string {
  const at = civil(tMs, zone);
  return `${two(at.hour)}:${two(at.minute)}`;
}

/** "today", "tomorrow", else "24 Nov": the day of a moment as people say it now. */
export function dayWord(tMs: EpochMs, nowMs: EpochMs, zone: string): string {
  const midnight = (at: Civil) => Date.UTC(at.year, at.month - 1, at.day);
  const days = Math.round((midnight(civil(tMs, zone)) - midnight(civil(nowMs, zone))) / 86_400_000);
  return days === 0 ? 'today' : days === 1 ? 'tomorrow' : dayText(tMs, zone);
}

/** The day to say behind a time of day: '' for today, else " tomorrow" or " 24 Nov". */
export function otherDay(tMs: EpochMs, nowMs: EpochMs, zone: string): string {
  const day = dayWord(tMs, nowMs, zone);
  return day === 'today' ? '' : ` ${day}`;
}

const MONTHS = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];
const DAYS = ['Sun', 'Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat'];

/** "24 Nov" in a zone. */
export function dayText(tMs: EpochMs, zone: string): string {
  const at = civil(tMs, zone);
  return `${at.day} ${MONTHS[at.month - 1]}`;
}

/** "Tue 24 Nov" of a local date YYYY-MM-DD; the text itself when it is none. */
export function dateText(isoDate: string): string {
  const [year, month, day] = isoDate.split('-').map(Number);
  if (!year || !month || !day) return isoDate;
  return `${DAYS[new Date(Date.UTC(year, month - 1, day)).getUTCDay()]} ${day} ${MONTHS[month - 1]}`;
}

/** The zone as people read it, with its offset at a moment: "Europe/Lisbon, UTC+1", "Asia/Kathmandu, UTC+5:45"; what is UTC by its name says it once. */
export function zoneText(tMs: EpochMs, zone: string): string {
  if (/^(Etc\/)?(UTC|UCT|Universal|Zulu)$/.test(zone)) return 'UTC';
  const minutes = Math.round(offsetMs(tMs, zone) / 60_000);
  const size = Math.abs(minutes);
  const rest = size % 60 === 0 ? '' : `:${two(size % 60)}`;
  const sign = minutes < 0 ? '−' : '+';
  return `${zone.replaceAll('_', ' ')}, UTC${minutes === 0 ? '' : `${sign}${Math.floor(size / 60)}${rest}`}`;
}
