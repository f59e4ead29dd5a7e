import type { SchemaNode } from './schema-tree.ts';

const TYPE_WORDS: ReadonlyMap<string, string> = new Map([
  ['string', 'text'],
  ['number', 'number'],
  ['integer', 'whole number'],
  ['boolean', 'true or false'],
  ['array', 'list'],
  ['object', 'group'],
]);

/** A cell of a table: no bar may end it early. */
export const cell = (text: string): string => text.replaceAll('|', '\\|').replace(/\s+/g, ' ');
export const code = (value: unknown): string => `\`${typeof value === 'string' ? value : JSON.stringify(value)}\``;

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

/** A table of the keys of a group. */
export function rowsOf(node: SchemaNode, skip: ReadonlySet<string> = new Set()): string[] {
  const rows = Object.entries(node.properties ?? {})
    .filter(([key]) => !skip.has(key))
    .map(
      ([key, child]) =>
        `| ${code(key)} | ${cell(typeOf(child))} | ${cell(defaultOf(child, node.required?.includes(key) ?? false))} | ${cell(child.description ?? '')} |`,
    );
  return ['| key | value | default | meaning |', '| --- | --- | --- | --- |', ...rows];
}
