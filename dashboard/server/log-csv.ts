import type { LogLine } from '../../shared/schema/alarm-book.ts';

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
 * The log as a file for a spreadsheet: a header, a line each, times in UTC and by the rig's clock. A cell that a spreadsheet would
 * take for a formula begins with an apostrophe.
 * @source RFC 4180, section 2 (CRLF, quotes doubled)
 */
export function logCsv(lines: readonly LogLine[], timeZone: string): string {
  // Swedish writes dates as ISO 8601 does.
  const local = new Intl.DateTimeFormat('sv-SE', { timeZone, dateStyle: 'short', timeStyle: 'medium' });
  const rows = lines.map((line) => {
    const row: Row = { time: new Date(line.tMs).toISOString(), localTime: local.format(line.tMs), kind: line.kind, ...cellsOf(line) };
    return COLUMNS.map((column) => cell(row[column] ?? ''));
  });
  return [COLUMNS, ...rows].map((row) => `${row.join(',')}\r\n`).join('');
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

function cell(value: string | number): string {
  const plain = typeof value === 'number' ? String(value) : value.replace(/^(?=[=+\-@\t\r])/, "'");
  return /[",\r\n]/.test(plain) ? `"${plain.replaceAll('"', '""')}"` : plain;
}
