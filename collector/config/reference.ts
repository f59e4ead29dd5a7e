import { FORECAST, SIGNALS } from '../../shared/signals.ts';
import { MODES, UNIT_OF, UNIT_SYMBOLS } from '../../shared/units.ts';
import { alarmSections, callSections, routeSections } from './reference-alarms.ts';
import { cell, code, rowsOf } from './reference-rows.ts';
import { FILE_NODE, FORECAST_NODE, type SchemaNode, SIGNAL_NODE } from './schema-tree.ts';

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
      lines.push(...(key === 'routes' ? routeSections(node) : sectionOf(key, node, FILE_NODE.required?.includes(key) ?? false)));
      if (key === 'alarms') lines.push(...alarmSections());
      if (key === 'callOut') lines.push(...callSections(node));
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
