import type { Command } from 'commander';
import { reasonOf } from '../../shared/errors.ts';
import { type Bar, type Figure, holds } from '../bars/bar.ts';

interface Options {
  readonly only?: string;
  readonly json: boolean;
}

export interface Measuring {
  readonly name: string;
  readonly description: string;
  /** What is measured, loaded only when it is: starting a rig must be quick. */
  load(): Promise<readonly Bar[]>;
}

/** Adds a command that measures bars on this machine, and prints each figure beside what it must reach. */
export function addMeasuring(program: Command, { name, description, load }: Measuring): void {
  program
    .command(name)
    .description(description)
    .option('--only <name>', 'only the one of this name')
    .option('--json', 'print JSON', false)
    .action(async (options: Options) => run(await load(), options));
}

async function run(bars: readonly Bar[], { only, json }: Options): Promise<void> {
  const results: { bar: string; figures: readonly Figure[]; skipped: string }[] = [];
  for (const { name, what, measure } of bars) {
    if (only !== undefined && only !== name) continue;
    if (!json) console.log(`${name}: ${what}`);
    const measured = await measure().catch((error: unknown) => `it failed: ${reasonOf(error)}`);
    const figures = typeof measured === 'string' ? [] : measured;
    const skipped = typeof measured === 'string' ? measured : '';
    results.push({ bar: name, figures, skipped });
    if (json) continue;
    if (skipped !== '') console.log(`  not measured: ${skipped}`);
    for (const figure of figures) console.log(`  ${lineOf(figure)}`);
  }
  if (json) console.log(JSON.stringify(results, null, 2));
}

function lineOf(one: Figure): string {
  const { name, figure, unit, bar, sense } = one;
  const [verdict, sign] = [holds(one) ? 'holds      ' : 'falls short', sense === 'most' ? '<=' : '>='];
  const behind = unit === '' ? '' : ` ${unit}`;
  return `${verdict} ${name}: ${Number.isInteger(figure) ? figure : figure.toFixed(3)}${behind} (bar ${sign} ${bar}${behind})`;
}
