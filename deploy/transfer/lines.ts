import { strictNumber } from '../../shared/units.ts';
import { type Page, type Row, short } from './rows.ts';

/** What a reading is called: tags `rig` and `signal`, fields `mark` (0: ok) and `value`, both floats. The copy on a server uses the same names. */
const MEASUREMENT = 'reading';
/** A mark without what it says of the kind of time; what is left over 0 is suspect. */
const DEVICE_TIME = 64;

/** A page as lines, times in ns, which servers expect unless told otherwise. @source InfluxDB line protocol, version 2 */
export function linesOf(rigId: string, { signal, tMs, value, suspect }: Page): string {
  let text = '';
  for (let at = 0; at < tMs.length; at += 1)
    text += `${MEASUREMENT},rig=${rigId},signal=${signal} mark=${suspect[at] ? 1 : 0},value=${value[at]} ${tMs[at]}000000\n`;
  return text;
}

const LINE = /^([^\s,]+)((?:,[^\s,=]+=[^\s,=]+)*) ([^\s]+) (\d{9,19})$/;
const EXPECTED = `${MEASUREMENT},rig=...,signal=... mark=0,value=13.2 1780272000000000000`;

/** True for a line that line protocol could have. */
export const isLine = (line: string): boolean => LINE.test(line);

/** One line as a reading, or what is wrong with it. Times in s, ms, us or ns, told apart by their size. */
export function rowOfLine(line: string): Row | string {
  const found = LINE.exec(line);
  if (!found) return `got ${short(line)}, expected a line such as ${EXPECTED}`;
  const [, measurement, tagText = '', fieldText = '', time = ''] = found;
  if (measurement !== MEASUREMENT) return `measurement: got ${short(measurement as string)}, expected ${MEASUREMENT}`;
  const tags = pairs(tagText.slice(1));
  const fields = pairs(fieldText);
  const signal = tags.get('signal');
  if (signal === undefined) return `tag signal: got none, expected a line such as ${EXPECTED}`;
  const value = strictNumber(fields.get('value') ?? '');
  if (value === null) return `field value: got ${short(fields.get('value') ?? 'none')}, expected a float such as 13.2`;
  const mark = strictNumber(fields.get('mark') ?? '0');
  if (mark === null) return `field mark: got ${short(fields.get('mark') as string)}, expected a number, 0 for a good reading`;
  return { tMs: msOf(time), rig: tags.get('rig') ?? null, signal, value, unit: null, suspect: mark % DEVICE_TIME !== 0 };
}

const pairs = (text: string): Map<string, string> => new Map(text.split(',').map((pair) => pair.split('=', 2) as [string, string]));

/** Epoch time of 9 to 19 digits in ms, whatever of s, ms, us and ns it is in. */
function msOf(digits: string): number {
  if (digits.length <= 11) return Number(digits) * 1000;
  if (digits.length <= 14) return Number(digits);
  return Math.round(Number(digits) / (digits.length <= 17 ? 1e3 : 1e6));
}
