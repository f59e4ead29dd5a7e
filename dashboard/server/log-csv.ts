import type { LogLine } from '../../shared/schema/alarm-book.ts';
import { csvFile, localTimes } from './csv.ts';

const COLUMNS = [
  'time',
  'localTime',
  'kind',
  'alarm',
  'occurrence',
  'what',
  'condition',
  'lifecycle',
  'suppression',
  'priority',
  'by',
  'route',
  'to',
  'attempts',
  'text',
  'reason',
] as const;
type Row = Partial<Record<(typeof COLUMNS)[number], string | number>>;

/**
 * The log as a file for a spreadsheet: a header, a line each, times in UTC and by the rig's clock. See `csvFile`.
 */
export function logCsv(lines: readonly LogLine[], timeZone: string): string {
  const local = localTimes(timeZone);
  const rows = lines.map((line) => {
    const row: Row = { time: new Date(line.tMs).toISOString(), localTime: local(line.tMs), kind: line.kind, ...cellsOf(line) };
    return COLUMNS.map((column) => row[column] ?? null);
  });
  return csvFile(COLUMNS, rows);
}

function cellsOf(line: LogLine): Row {
  switch (line.kind) {
    case 'change': {
      const { occurrence, lifecycle, suppression, priority, by, text } = line;
      return { alarm: line.id, what: line.deed, condition: String(line.condition), occurrence, lifecycle, suppression, priority, by, text };
    }
    case 'delivery':
      return {
        alarm: line.alarmId ?? '',
        what: line.state,
        route: line.route,
        to: line.targetName,
        attempts: line.attempts,
        text: line.what,
        reason: line.reason,
      };
    case 'deed':
      return { by: line.by, text: line.what };
  }
}
