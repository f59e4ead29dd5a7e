type Cell = string | number | null;

/**
 * A file for a spreadsheet: a header, a line each; what is missing is empty. A cell that a spreadsheet would take for a formula begins with
 * an apostrophe.
 * @source RFC 4180, section 2 (CRLF, quotes doubled)
 */
export const csvFile = (header: readonly string[], rows: readonly (readonly Cell[])[]): string =>
  [header, ...rows].map((row) => `${row.map(cellText).join(',')}\r\n`).join('');

function cellText(value: Cell): string {
  const plain = typeof value === 'string' ? value.replace(/^(?=[=+\-@\t\r])/, "'") : String(value ?? '');
  return /[",\r\n]/.test(plain) ? `"${plain.replaceAll('"', '""')}"` : plain;
}

/** Writes moments by a zone's clock: "2026-11-24 18:06:00". */
export function localTimes(timeZone: string): (tMs: number) => string {
  // Swedish writes dates as ISO 8601 does.
  const local = new Intl.DateTimeFormat('sv-SE', { timeZone, dateStyle: 'short', timeStyle: 'medium' });
  return (tMs) => local.format(tMs);
}
