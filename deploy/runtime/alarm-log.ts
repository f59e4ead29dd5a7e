import { createHash } from 'node:crypto';
import { figuresOf } from '../../engine/alarms/figures.ts';
import type { DocumentStore } from '../../shared/ports.ts';
import { AlarmChange } from '../../shared/schema/alarm.ts';
import { type AlarmFigures, type AlarmLog, LogLine, type LogQuery } from '../../shared/schema/alarm-book.ts';
import type { EpochMs } from '../../shared/units.ts';
import { newestFirst } from './newest-first.ts';

/** Kinds of the documents: the changes that the engine made, and what was sent and done beside them. */
const CHANGES = 'alarm';
const REST = 'alarm-log';
const HOUR_MS = 3_600_000;
/** Changes that figures look at, at most: years of them, or months of flapping. */
const MOST_CHANGES = 50_000;

interface Entry {
  readonly kind: string;
  readonly id: string;
  readonly tMs: EpochMs;
  readonly body: string;
}

/** The audit of the alarms, read from the store. */
export interface AlarmLogReader {
  /** Lines that fit the query, newest first. */
  search(query: Omit<LogQuery, 'format'>): Promise<AlarmLog>;
  /** Figures of the range, of as much of it as has passed and as the rig was watched. */
  figures(fromMs: EpochMs, toMs: EpochMs): Promise<AlarmFigures>;
}

/** The document of a line. The same line twice is one document, so that writing it again is safe. */
export function logEntry(line: LogLine): Entry {
  if (line.kind === 'change') {
    const { kind, ...change } = line;
    return { kind: CHANGES, id: `${change.tMs} ${change.id} ${change.occurrence} ${change.deed}`, tMs: change.tMs, body: JSON.stringify(change) };
  }
  const body = JSON.stringify(line);
  return { kind: REST, id: `${line.tMs} ${createHash('sha256').update(body).digest('base64url').slice(0, 16)}`, tMs: line.tMs, body };
}

export function createAlarmLog({ store, nowMs }: { store: DocumentStore; nowMs(): EpochMs }): AlarmLogReader {
  /** Both kinds in one order; at one moment what was sent stands over the change that it tells of. */
  async function* lines(fromMs: EpochMs, toMs: EpochMs): AsyncGenerator<LogLine> {
    const changes = newestFirst(store, CHANGES, fromMs, toMs);
    const rest = newestFirst(store, REST, fromMs, toMs);
    let [change, other] = [await changes.next(), await rest.next()];
    while (!change.done || !other.done) {
      const isOther = !other.done && (change.done || other.value.tMs >= change.value.tMs);
      const body = isOther ? other.value?.body : change.value?.body;
      const line = body === undefined ? null : lineOf(body, isOther);
      if (line) yield line;
      if (isOther) other = await rest.next();
      else change = await changes.next();
    }
  }

  /** The first hour at or after `fromMs` in which the rig was watched; `toMs` where it never was. */
  async function watchedSince(fromMs: EpochMs, toMs: EpochMs): Promise<EpochMs> {
    const isBefore = async (tMs: EpochMs) => (await store.list('bin', fromMs, tMs, 1)).length > 0;
    let [lowMs, highMs] = [fromMs, toMs];
    while (highMs - lowMs > HOUR_MS) {
      const middleMs = Math.floor((lowMs + highMs) / 2);
      if (await isBefore(middleMs)) highMs = middleMs;
      else lowMs = middleMs;
    }
    return lowMs;
  }

  return {
    async search({ fromMs, toMs, text, alarm, limit }) {
      const found: LogLine[] = [];
      for await (const line of lines(fromMs, toMs)) {
        if (!isAbout(line, alarm) || !wordsOf(line).includes(text.toLowerCase())) continue;
        if (found.length === limit) return { lines: found, more: true };
        found.push(line);
      }
      return { lines: found, more: false };
    },
    async figures(fromMs, toMs) {
      const endMs = Math.min(toMs, Math.max(nowMs(), fromMs + HOUR_MS));
      const changes: AlarmChange[] = [];
      for await (const { body } of newestFirst(store, CHANGES, 0, endMs)) {
        const change = changeOf(body);
        if (change) changes.push(change);
        if (changes.length === MOST_CHANGES) break;
      }
      return figuresOf(changes.reverse(), await watchedSince(fromMs, endMs), endMs);
    },
  };
}

function lineOf(body: string, isOther: boolean): LogLine | null {
  if (!isOther) {
    const change = changeOf(body);
    return change && { kind: 'change', ...change };
  }
  const parsed = LogLine.safeParse(JSON.parse(body));
  return parsed.success ? parsed.data : null;
}

/** A stored change. Earlier versions kept neither the occurrence nor what happened, which the lifecycle tells. */
function changeOf(body: string): AlarmChange | null {
  const stored = JSON.parse(body) as Partial<AlarmChange>;
  const parsed = AlarmChange.safeParse({ occurrence: 0, deed: deedOf(stored), by: '', ...stored });
  return parsed.success ? parsed.data : null;
}

function deedOf({ lifecycle, condition }: Partial<AlarmChange>): AlarmChange['deed'] {
  if (lifecycle === 'acknowledged') return 'acknowledged';
  if (lifecycle === 'unacknowledged') return condition === 'unknown' ? 'out-of-sight' : 'raised';
  return 'returned';
}

function isAbout(line: LogLine, alarm: string): boolean {
  if (alarm === '') return true;
  return line.kind === 'change' ? line.id === alarm : line.kind === 'delivery' && line.alarmId === alarm;
}

/** What a line shows, to be searched. */
function wordsOf(line: LogLine): string {
  const shown =
    line.kind === 'change'
      ? [line.id, line.deed, line.priority, line.lifecycle, line.by, line.text]
      : line.kind === 'delivery'
        ? [line.alarmId ?? '', line.route, line.targetName, line.what, line.state, line.reason]
        : [line.by, line.what];
  return shown.join('\n').toLowerCase();
}
