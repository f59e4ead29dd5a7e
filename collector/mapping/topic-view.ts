import type { SignalSource } from '../../shared/schema/rig-file.ts';
import type { TopicView } from '../../shared/schema/sensor-book.ts';
import { printablePayload } from '../mqtt/printable.ts';
import { type Field, fieldsOf } from './fields.ts';
import { likely } from './likely.ts';
import { decodable, type Remembered } from './remembered.ts';

/** What is known of the rig and of who reads the topic. */
export interface TopicContext {
  readonly cells: number;
  readonly mapped: ReadonlySet<string>;
  /** Signals that read this topic, with how. */
  readonly readers: readonly { readonly signal: string; readonly source: SignalSource }[];
}

const SHOWN_PAYLOAD = 4000;
const LONGEST_POINTER = 512;

const isReadBy = (field: Field, source: SignalSource): boolean =>
  field.format === source.format && (field.format === 'number' || (field.format === 'json' ? field.pointer === source.pointer : field.name === source.name));

/** The last message of a topic, taken apart into fields, each with who reads it and what it may be. */
export function topicView(topic: string, last: Remembered, { cells, mapped, readers }: TopicContext): TopicView {
  const fields = fieldsOf(decodable(last), last.lastMs).filter(({ pointer = '' }) => pointer.length <= LONGEST_POINTER);
  return {
    topic,
    count: last.count,
    lastMs: Math.round(last.lastMs),
    retained: last.retained,
    payload: printablePayload(last.head, SHOWN_PAYLOAD),
    isCut: last.isCut,
    fields: fields.map((field) => ({
      ...field,
      usedBy: readers.find(({ source }) => isReadBy(field, source))?.signal ?? null,
      likely: likely({ topic, field, cells, mapped }),
    })),
  };
}
