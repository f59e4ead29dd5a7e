import type { TopicView } from '../../../../shared/schema/sensor-book.ts';

export type Field = TopicView['fields'][number];

/** A line of a payload: a value that can be picked, or the name of a group of them. */
export interface TreeLine {
  readonly id: string;
  readonly depth: number;
  readonly name: string;
  readonly field: Field | null;
}

/** What tells a field from the others of its payload. */
export const fieldId = ({ format, pointer, name }: Field): string => `${format} ${pointer ?? name ?? ''}`;

const unescaped = (token: string): string => token.replaceAll('~1', '/').replaceAll('~0', '~');

/** A payload's fields as lines, groups before what stands in them; `value` names a bare one. */
export function treeLines(fields: readonly Field[]): TreeLine[] {
  const lines: TreeLine[] = [];
  let open: string[] = [];
  for (const field of fields) {
    const tokens = field.format === 'json' ? (field.pointer ?? '').split('/').slice(1).map(unescaped) : [];
    const groups = tokens.slice(0, -1);
    const kept = groups.findIndex((token, i) => open[i] !== token);
    const same = kept === -1 ? groups.length : kept;
    for (let depth = same; depth < groups.length; depth++) {
      lines.push({ id: `group ${JSON.stringify(groups.slice(0, depth + 1))}`, depth, name: groups[depth] ?? '', field: null });
    }
    open = groups;
    lines.push({ id: fieldId(field), depth: groups.length, name: tokens.at(-1) ?? field.name ?? 'value', field });
  }
  return lines;
}

/** A field of which a signal is likely read, with how likely: 0 is the likeliest. */
export interface Candidate {
  readonly topic: string;
  readonly field: Field;
  readonly rank: number;
}

/** The likeliest field for a signal among topics, else null. Fields that another signal reads come last. */
export function likeliest(signal: string, topics: readonly TopicView[]): Candidate | null {
  const found = topics.flatMap((view) =>
    view.fields.flatMap((field) => {
      const rank = field.likely.findIndex((guess) => guess.signal === signal);
      return rank === -1 ? [] : [{ topic: view.topic, field, rank: rank + (field.usedBy === null || field.usedBy === signal ? 0 : 100) }];
    }),
  );
  return found.sort((a, b) => a.rank - b.rank)[0] ?? null;
}
