import type { Command } from 'commander';
import { hasData } from '../reference/figure.ts';

interface Options {
  readonly json: boolean;
  readonly part?: string;
}

/** Adds `score-reference`: measures the engine's models on open measured data. */
export function addScoreReference(program: Command): void {
  program
    .command('score-reference')
    .description("measure the engine's models on open measured data, beside their bars and what plainer ways reach")
    .option('--part <name>', 'only this part')
    .option('--json', 'print JSON', false)
    .action(run);
}

async function run(options: Options): Promise<void> {
  if (!hasData()) {
    console.log('Skipped: there is no measured data in ../shared/data, so there is nothing to measure against.');
    return;
  }
  const { PARTS } = await import('../reference/parts.ts');
  const figures = [];
  for (const part of PARTS) {
    if (options.part !== undefined && options.part !== part.name) continue;
    for (const f of await part.measure()) {
      const figure = { part: part.name, ...f, verdict: f.figure <= f.bar ? 'holds' : 'falls short' };
      figures.push(figure);
      if (options.json) continue;
      console.log(`${figure.part}: ${figure.name}: ${digits(f.figure)} ${f.unit}, bar ${digits(f.bar)}: ${figure.verdict}`);
      for (const [rule, value] of Object.entries(f.baselines ?? {})) console.log(`    ${rule}: ${digits(value)}`);
    }
  }
  if (options.json) console.log(JSON.stringify(figures, null, 2));
}

const digits = (value: number) => (Math.abs(value) < 0.1 ? value.toPrecision(3) : value.toFixed(3));
