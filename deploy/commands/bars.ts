import type { Command } from 'commander';
import { reasonOf } from '../../shared/errors.ts';
import { type Figure, holds } from '../bars/bar.ts';

interface Options {
  readonly only?: string;
  readonly json: boolean;
}

/** Adds `bars`: measures on this machine what Dawnhold promises, and says whether it holds. */
export function addBars(program: Command): void {
  program
    .command('bars')
    .description('measure what must hold on this machine')
    .option('--only <name>', 'only the bar of this name')
    .option('--json', 'print JSON', false)
    .action(run);
}

async function run({ only, json }: Options): Promise<void> {
  // Loaded only here: the browser's driver is large, and starting a rig must be quick.
  const { BARS } = await import('../bars/all.ts');
  const results: { bar: string; figures: readonly Figure[]; skipped: string }[] = [];
  for (const { name, what, measure } of BARS) {
    if (only !== undefined && only !== name) continue;
    if (!json) console.log(`${name}: ${what}`);
    const measured = await measure().catch((error: unknown) => `it failed: ${reasonOf(error)}`);
    const figures = typeof measured === 'string' ? [] : measured;
    const skipped = typeof measured === 'string' ? measured : '';
    results.push({ bar: name, figures, skipped });
    if (json) continue;
    if (skipped !== '') console.log(`  not measured: ${skipped}`);
    for (const figure of figures) {
      const sign = figure.sense === 'most' ? '<=' : '>=';
      console.log(
        `  ${holds(figure) ? 'holds      ' : 'falls short'} ${figure.name}: ${round(figure.figure)} ${figure.unit} (bar ${sign} ${figure.bar} ${figure.unit})`,
      );
    }
  }
  if (json) console.log(JSON.stringify(results, null, 2));
}

const round = (figure: number) => (Number.isInteger(figure) ? figure : figure.toFixed(3));
