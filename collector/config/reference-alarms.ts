import { BUILT_IN } from '../../shared/built-in-alarms.ts';
import { CATALOGUE } from '../../shared/quantities.ts';
import { cell, code, rowsOf } from './reference-rows.ts';
import { BRANCH_NODE, LEAF_NODE, type SchemaNode } from './schema-tree.ts';

/** What belongs to the alarms: conditions, what they can watch beside the signals, the built-in alarms. */
export function alarmSections(): string[] {
  const watched = [...CATALOGUE].map(([name, { label, unit, range, kind, wordsOnly }]) => {
    const extent = wordsOnly ? 'words for a message' : `${range[0]} to ${range[1]}`;
    return `| ${code(name)} | ${cell(unit)} | ${extent} | ${cell(label)}${wordsOnly ? '' : `, ${kind}`} |`;
  });
  const built = BUILT_IN.map(({ id, title, levels, priority }) => {
    const priorities = levels?.map((level) => level.priority) ?? (priority ? [priority] : []);
    return `| ${code(id)} | ${priorities.map(code).join(', ')} | ${cell(title)} |`;
  });
  return [
    '### A condition',
    '',
    'Watches one thing by exactly one test:',
    '',
    ...rowsOf(LEAF_NODE),
    '',
    'Or is one of these, alone:',
    '',
    ...rowsOf({ ...BRANCH_NODE, required: [] }),
    '',
    '### What can be watched beside the signals',
    '',
    '| name | unit kept | range | meaning |',
    '| --- | --- | --- | --- |',
    ...watched,
    '',
    '### Built-in alarms',
    '',
    'An entry of `alarms` with one of these ids changes what it names and leaves the rest as built in.',
    '',
    '| id | priorities | meaning |',
    '| --- | --- | --- |',
    ...built,
    '',
  ];
}

/** The routes, each kind with its keys. */
export function routeSections(node: SchemaNode): string[] {
  const route = typeof node.additionalProperties === 'object' ? node.additionalProperties : {};
  const kinds = route.oneOf ?? route.anyOf ?? [];
  const sections = kinds.flatMap((kind) => [
    `### A route of kind ${code(kind.properties?.kind?.const)}`,
    '',
    ...(kind.description === undefined ? [] : [cell(kind.description), '']),
    ...rowsOf(kind),
    '',
  ]);
  return ['## `routes`', '', `${cell(node.description ?? '')}. Left out: ${code(node.default)}`, '', ...sections];
}

/** Who is called: the keys of one priority, and of what comes next. */
export function callSections({ properties }: SchemaNode): string[] {
  const call = properties?.high ?? {};
  return ['### One priority', '', ...rowsOf(call), '', 'An entry of `then`:', '', ...rowsOf(call.properties?.then?.items ?? {}), ''];
}
