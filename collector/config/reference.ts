import { FORECAST, SIGNALS } from '../../shared/signals.ts';
import { MODES, UNIT_OF, UNIT_SYMBOLS } from '../../shared/units.ts';
import { FILE_NODE, FORECAST_NODE, type SchemaNode, SIGNAL_NODE } from './schema-tree.ts';

const TYPE_WORDS: ReadonlyMap<string, string> = new Map([
  ['string', 'text'],
  ['number', 'number'],
  ['integer', 'whole number'],
  ['boolean', 'true or false'],
  ['array', 'list'],
  ['object', 'group'],
]);

/** A cell of a table: no bar may end it early. */
const cell = (text: string): string => text.replaceAll('|', '\\|').replace(/\s+/g, ' ');
const code = (value: unknown): string => `\`${typeof value === 'string' ? value : JSON.stringify(value)}\``;

function bounds({ minimum, maximum }: SchemaNode): string {
  const from = minimum === undefined || minimum <= Number.MIN_SAFE_INTEGER ? '' : ` from ${minimum}`;
  const to = maximum === undefined || maximum >= Number.MAX_SAFE_INTEGER ? '' : ` to ${maximum}`;
  return from + to;
}

/** What may stand as a value, in words. */
function typeOf(node: SchemaNode): string {
  if (node.expected !== undefined) return node.expected;
  if (node.enum !== undefined) return node.enum.map(code).join(', ');
  if (node.const !== undefined) return code(node.const);
  if (node.anyOf !== undefined) return [...new Set(node.anyOf.map(typeOf))].join(' or ');
  if (node.prefixItems !== undefined) return `two values: ${typeOf(node.prefixItems[0] ?? {})}`;
  if (node.items !== undefined) return node.items.properties === undefined ? `list of ${typeOf(node.items)}` : 'list of groups';
  const types = typeof node.type === 'string' ? [node.type] : (node.type ?? []);
  const words = types.map((type) => TYPE_WORDS.get(type) ?? type).join(' or ');
  return words + bounds(node);
}

function defaultOf(node: SchemaNode, required: boolean): string {
  if (required) return 'required';
  return node.default === undefined ? '' : code(node.default);
}

function rowsOf(node: SchemaNode, skip: ReadonlySet<string> = new Set()): string[] {
  const rows = Object.entries(node.properties ?? {})
    .filter(([key]) => !skip.has(key))
    .map(
      ([key, child]) =>
        `| ${code(key)} | ${cell(typeOf(child))} | ${cell(defaultOf(child, node.required?.includes(key) ?? false))} | ${cell(child.description ?? '')} |`,
    );
  return ['| key | value | default | meaning |', '| --- | --- | --- | --- |', ...rows];
}

/** A section of the file: its keys, those of a list's entries for a list. */
function sectionOf(key: string, node: SchemaNode, required: boolean): string[] {
  const entries = node.items ?? node;
  return [
    `## ${code(key)}`,
    '',
    `${cell(node.description ?? '')}${required ? ' (required)' : ''}${node.items === undefined ? '' : '. A list; each entry:'}`,
    '',
    ...rowsOf(entries),
    '',
  ];
}

/** The reference of the rig file in Markdown, from the descriptions, units, ranges and defaults of its schema and the table of signals. */
export function rigFileReference(): string {
  const lines = ['# The rig file', '', 'Generated from the schema; do not edit. `deploy/rig.example.yaml` is an example.', ''];
  for (const [key, node] of Object.entries(FILE_NODE.properties ?? {})) {
    if (key !== 'signals') {
      lines.push(...sectionOf(key, node, FILE_NODE.required?.includes(key) ?? false));
      continue;
    }
    lines.push(
      '## `signals`',
      '',
      `${node.description ?? ''} (required). Each key is the name of a signal:`,
      '',
      '| name | unit kept | range | meaning |',
      '| --- | --- | --- | --- |',
    );
    for (const [name, { quantity, range, label }] of SIGNALS) {
      const kept = quantity === 'mode' ? `one of ${MODES.join(', ')}` : quantity === 'flag' ? 'true or false' : UNIT_OF[quantity];
      lines.push(`| ${code(name)} | ${kept} | ${quantity === 'mode' || quantity === 'flag' ? '' : `${range[0]} to ${range[1]}`} | ${label} |`);
    }
    lines.push(
      '| `charge.<name>.power` | W | -100 to 50000 | a charger: alternator, generator, shore |',
      '| `load.<name>.power` | W | -100 to 50000 | a load that is measured by itself |',
    );
    lines.push('| `<group>.<name>` | by its unit | physical | anything else, with a `unit` or a `quantity` |', '');
    lines.push(
      `\`bank.voltage\` and \`bank.current\` are required. Units that a board may send: ${UNIT_SYMBOLS.map(code).join(', ')}. Each signal:`,
      '',
      ...rowsOf(SIGNAL_NODE),
      '',
    );
    lines.push(
      'An entry of `sum` takes the same keys but `sum`, `every`, `side` and `quantity`.',
      '',
      `### ${code(FORECAST)}`,
      '',
      FORECAST_NODE.description ?? '',
      '',
      ...rowsOf(FORECAST_NODE),
      '',
    );
  }
  return `${lines.join('\n').trimEnd()}\n`;
}
