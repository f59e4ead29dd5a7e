import { entryOf } from '../entry-of.ts';
import type { Batch } from './batch.ts';
import { pack, readColumns, unpack, writeColumns } from './block.ts';
import { ByteSource, createSink } from './bytes.ts';
import { type Columns, columnRoom, type Mark, markPlace } from './columns.ts';

/** Readings by the number of their signal. */
export type BySignal = ReadonlyMap<number, Columns>;

/** Readings of a batch as columns, a signal each, in the order in which they came. */
export function columnsOf(batch: Batch, ids: readonly number[], run: number): BySignal {
  const places = new Map<number, number[]>();
  for (let at = 0; at < batch.signalAt.length; at += 1) entryOf(places, ids[batch.signalAt[at] as number] as number, (): number[] => []).push(at);
  return new Map(
    Array.from(places, ([id, from]) => {
      const columns = columnRoom(from.length);
      const marks: Mark[] = [];
      from.forEach((place, at) => {
        columns.tMs[at] = batch.tMs[place] as number;
        // The sign of nought says nothing, and would keep an hour of whole numbers from being written as such.
        columns.value[at] = (batch.value[place] as number) + 0;
        columns.slot[at] = batch.slot[place] as number;
        columns.mark[at] = markPlace(marks, { suspect: batch.suspect[place] === 1, reason: batch.reasons.get(place) ?? null });
        columns.run[at] = run;
        columns.arrivalSeq[at] = batch.arrivalSeq[place] as number;
      });
      return [id, { ...columns, marks }] as const;
    }),
  );
}

/** Writes the readings of one commit, all signals in one. Times are written as those since `baseMs`. */
export function encodeCommit(readings: BySignal, baseMs: number): Uint8Array {
  const sink = createSink();
  for (const [id, columns] of readings) {
    sink.whole(id);
    writeColumns(sink, columns, baseMs);
  }
  return pack(sink.done());
}

export function decodeCommit(bytes: Uint8Array, baseMs: number): BySignal {
  const source = new ByteSource(unpack(bytes));
  const readings = new Map<number, Columns>();
  while (!source.ended) readings.set(source.whole(), readColumns(source, baseMs));
  return readings;
}
