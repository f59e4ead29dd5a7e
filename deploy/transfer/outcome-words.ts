import type { ImportOutcome } from './import.ts';

const count = (number: number, one: string, many: string): string => `${number} ${number === 1 ? one : many}`;
const KIND = { csv: 'CSV', lines: 'line protocol', parquet: 'Parquet', recording: 'a recording' } as const;

/** What became of a file, in sentences; the lines that were left out stand apart from it. */
export function outcomeWords({ kind, taken, known, thinned, refused, recording, fromMs, toMs }: ImportOutcome): string {
  const day = (tMs: number) => `${new Date(tMs).toISOString().slice(0, 16)}Z`;
  const span = fromMs === null || toMs === null ? '' : `, from ${day(fromMs)} to ${day(toMs)}`;
  const parts = [
    `The file is ${KIND[kind]}${span}. ${count(taken, 'reading was', 'readings were')} taken, ${count(known, 'was', 'were')} there already.`,
    thinned > 0 ? `${count(thinned, 'lies', 'lie')} in minutes of which only means are kept by now, and ${thinned === 1 ? 'was' : 'were'} left out.` : '',
    refused > 0 ? `${count(refused, 'line does', 'lines do')} not fit and ${refused === 1 ? 'was' : 'were'} left out.` : '',
  ];
  if (recording) {
    const { messages, unmapped, rejected } = recording;
    const reasons = Object.entries(rejected).map(([reason, times]) => `${reason} ${times}`);
    parts.push(`Of ${count(messages, 'message', 'messages')}, ${unmapped} had a topic that no signal reads.`);
    if (reasons.length > 0) parts.push(`Values left out: ${reasons.join(', ')}.`);
  }
  return parts.filter((part) => part !== '').join(' ');
}
