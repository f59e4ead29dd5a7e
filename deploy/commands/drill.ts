import type { Command } from 'commander';
import { reasonOf } from '../../shared/errors.ts';
import type { Outcome } from '../drill/faults.ts';

interface Options {
  readonly only?: readonly string[];
  readonly json: boolean;
}

/** Adds `drill`: breaks one thing after another beside a real rig, and shows whether the alarm arrives all the same. */
export function addDrill(program: Command): void {
  program
    .command('drill')
    .description('break one thing after another, and see whether the alarm arrives')
    .option('--only <names...>', 'only the faults of these names')
    .option('--json', 'print JSON', false)
    .action(run);
}

async function run({ only, json }: Options): Promise<void> {
  // Loaded only here: its servers are for development.
  const { FAULTS, drilled } = await import('../drill/faults.ts');
  const chosen = FAULTS.filter(({ name }) => only === undefined || only.includes(name));
  const unknown = only?.filter((one) => !FAULTS.some(({ name }) => name === one)) ?? [];
  if (unknown.length > 0) {
    console.error(`there is no fault ${unknown.join(', ')}; choose from ${FAULTS.map(({ name }) => name).join(', ')}`);
    process.exitCode = 1;
    return;
  }
  const rows: (Outcome & { fault: string; seconds: number })[] = [];
  for (const fault of chosen) {
    const startedMs = performance.now();
    const outcome = await drilled(fault).catch((error: unknown): Outcome => ({ arrived: `nothing: ${reasonOf(error)}`, holds: false }));
    rows.push({ fault: fault.name, ...outcome, seconds: Math.round((performance.now() - startedMs) / 1000) });
    if (!json) console.log(`${outcome.holds ? 'holds      ' : 'falls short'} ${fault.what}: ${outcome.arrived}`);
  }
  if (json) console.log(JSON.stringify(rows, null, 2));
  if (!rows.every(({ holds }) => holds)) process.exitCode = 1;
}
