import { strictNumber } from '../../shared/units.ts';
import { COLUMNS, type Page, type Row, short } from './rows.ts';

const ENDS = '\r\n';
export const CSV_HEADER = COLUMNS.join(',') + ENDS;

/** A page as lines. @source RFC 4180, section 2; times by RFC 3339 in UTC. Names and units hold nothing that would need quotes. */
export function csvOf(rigId: string, { signal, unit, tMs, value, suspect }: Page): string {
  let text = '';
  for (let at = 0; at < tMs.length; at += 1)
    text += `${new Date(tMs[at] as number).toISOString()},${rigId},${signal},${value[at]},${unit},${suspect[at] ? 'suspect' : 'ok'}${ENDS}`;
  return text;
}

/** Reads the lines of such a file, or of one that a spreadsheet has written anew: columns in any order, commas, semicolons or tabs. */
export interface CsvReader {
  row(line: string): Row | string;
}

/** RFC 3339 with its zone: without one nobody knows which is meant. */
const TIME = /^\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d(:\d\d(\.\d{1,9})?)?\s?([Zz]|[+-]\d\d:\d\d)$/;

/** A reader for a header line; null when it is no header of readings. */
export function csvReader(header: string): CsvReader | null {
  const separator = [',', ';', '\t'].find((one) => header.includes(one)) ?? ',';
  const names = cellsOf(header.replace(/^\uFEFF/, ''), separator).map((name) => name.toLowerCase());
  const [time, rig, signal, value, unit, quality] = COLUMNS.map((name) => names.indexOf(name)) as [number, number, number, number, number, number];
  if (time < 0 || signal < 0 || value < 0) return null;
  return {
    row(line) {
      const cells = cellsOf(line, separator);
      if (cells.length !== names.length) return `got ${cells.length} cells, expected ${names.length} as in the first line`;
      const cell = (at: number): string | null => (at < 0 ? null : (cells[at] as string));
      const timeText = cells[time] as string;
      if (!TIME.test(timeText)) return `time: got ${short(timeText)}, expected one such as 2026-06-01T18:30:00.000Z, with its zone`;
      const written = cells[value] as string;
      // Semicolons part the cells where the comma is the decimal sign.
      const number = strictNumber(separator === ';' ? written.replace(',', '.') : written);
      if (number === null) return `value: got ${short(written)}, expected a number such as 13.2`;
      const marked = cell(quality);
      if (marked !== null && marked !== '' && marked !== 'ok' && marked !== 'suspect') return `quality: got ${short(marked)}, expected ok or suspect`;
      const tMs = Math.round(Date.parse(timeText.replace(' ', 'T').replace(/\s/g, '')));
      return { tMs, rig: cell(rig), signal: cells[signal] as string, value: number, unit: cell(unit), suspect: marked === 'suspect' };
    },
  };
}

const QUOTED = /"((?:[^"]|"")*)"/y;

function cellsOf(line: string, separator: string): string[] {
  if (!line.includes('"')) return line.split(separator).map((cell) => cell.trim());
  const cells: string[] = [];
  for (let at = 0; at <= line.length; ) {
    QUOTED.lastIndex = at;
    const quoted = QUOTED.exec(line);
    const found = line.indexOf(separator, quoted ? QUOTED.lastIndex : at);
    const end = found < 0 ? line.length : found;
    cells.push(quoted ? (quoted[1] as string).replaceAll('""', '"') : line.slice(at, end).trim());
    at = end + 1;
  }
  return cells;
}
