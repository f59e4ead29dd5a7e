import { Point } from '@influxdata/influxdb-client';
import { type Reading, SUSPECT_REASONS } from '../../../shared/schema/reading.ts';

/** What a reading is called on a server: tags `rig` and `signal`, fields `value` and `mark`, both floats, time in ms. */
export const MEASUREMENT = 'reading';
/** Names as the rig file allows them. Anything else could bend a line or grow the number of series without end. */
const SAFE_NAME = /^[a-zA-Z0-9][a-zA-Z0-9._-]*$/;

/** Added to a mark when the time is the board's own. */
const DEVICE_TIME = 64;
const SUSPECT = 1;
const FIRST_REASON = 2;

/** True for a name that a rig or a signal may have on a server. */
export const isSafeName = (name: string): boolean => SAFE_NAME.test(name);

/** Quality, reason and kind of time as one number: 0 is an `ok` reading at its arrival. Reasons count on from 2 in the order of SUSPECT_REASONS. */
export function markOf({ quality, reason, timeSource }: Pick<Reading, 'quality' | 'reason' | 'timeSource'>): number {
  const known = (SUSPECT_REASONS as readonly (string | undefined)[]).indexOf(reason);
  const suspect = quality !== 'suspect' ? 0 : known < 0 ? SUSPECT : FIRST_REASON + known;
  return suspect + (timeSource === 'device' ? DEVICE_TIME : 0);
}

/** The way back from a mark. */
export function readMark(mark: number): Pick<Reading, 'quality' | 'reason' | 'timeSource'> {
  const timeSource = mark >= DEVICE_TIME ? 'device' : 'arrival';
  const suspect = mark % DEVICE_TIME;
  if (suspect === 0) return { quality: 'ok', timeSource };
  const reason = SUSPECT_REASONS[suspect - FIRST_REASON];
  return { quality: 'suspect', ...(reason !== undefined && { reason }), timeSource };
}

/**
 * One reading as a line. Throws TypeError for a name or a number that has no safe line.
 * @source InfluxDB line protocol, version 2: measurement, tags, fields, time
 */
export function lineOf(rigId: string, signal: string, tMs: number, value: number, mark: number): string {
  if (!isSafeName(rigId) || !isSafeName(signal)) throw new TypeError(`got ${rigId}, ${signal}, expected names of letters, digits, dots and hyphens`);
  if (!Number.isSafeInteger(tMs)) throw new TypeError(`got ${signal} at ${tMs}, expected a time in whole ms`);
  const line = new Point(MEASUREMENT)
    .tag('rig', rigId)
    .tag('signal', signal)
    .floatField('mark', mark)
    .floatField('value', value)
    .timestamp(String(tMs))
    .toLineProtocol();
  if (line === undefined) throw new TypeError(`${signal} = ${value} has no line`);
  return line;
}

/** Time of a line of ours, epoch ms. */
export const timeOfLine = (line: string): number => Number(line.slice(line.lastIndexOf(' ') + 1));
