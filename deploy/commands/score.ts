import { mkdir } from 'node:fs/promises';
import type { Command } from 'commander';
import { holds } from '../bars/bar.ts';
import { ratios, sweepRatios } from '../score/ratios.ts';
import { hasReference, RIGS, type RigName } from '../score/reference.ts';
import { scoreRigs, type Variant } from '../score/run.ts';

interface Options {
  readonly deviceSoc: boolean;
  readonly forecast: boolean;
  readonly json: boolean;
  readonly rig?: string;
  readonly keep?: string;
}

/** Adds `score`: replays the recordings that come with their truth and says how good the projections were. */
export function addScore(program: Command): void {
  program
    .command('score')
    .description('replay the recordings that come with their truth and compare the projections with it')
    .option('--no-device-soc', "leave out the device's own state of charge")
    .option('--forecast', 'use the recorded weather forecasts', false)
    .option('--rig <name>', `only one of ${RIGS.map(({ rig }) => rig).join(', ')}`)
    .option('--keep <folder>', 'keep rig files and output of the replays there')
    .option('--json', 'print JSON', false)
    .action(run);
}

async function run(options: Options): Promise<void> {
  if (!hasReference()) {
    console.log('Skipped: there are no recordings with their truth in ../shared/recordings, so there is nothing to score against.');
    return;
  }
  const rigs = RIGS.map(({ rig }) => rig).filter((rig) => options.rig === undefined || rig === options.rig);
  if (options.keep !== undefined) await mkdir(options.keep, { recursive: true });
  const variant: Variant = { deviceSoc: options.deviceSoc, forecast: options.forecast };
  const results = await scoreRigs(rigs satisfies RigName[], variant, options.keep ?? null);
  const figures = [...ratios(results, variant), ...sweepRatios(results)];
  if (options.json) {
    console.log(JSON.stringify({ variant, results, figures }, null, 2));
    return;
  }
  for (const { rig, score, alarm, sweep, replay } of results) {
    console.log(`${rig}: ${replay.messages} messages in ${replay.seconds.toFixed(1)} s`);
    console.table(score);
    console.log(
      `low-point: ${alarm.noticed} of ${alarm.crossings} crossings noticed 2 h before; urgent on ${alarm.urgentInVain} of ${alarm.nightsAbove} nights above the floor; with other floors:`,
    );
    console.table(sweep);
  }
  console.table(
    Object.fromEntries(
      figures.map((ratio) => [
        ratio.name,
        {
          figure: +ratio.figure.toFixed(3),
          bar: `${ratio.sense === 'most' ? '<=' : '>='} ${ratio.bar}`,
          reach: ratio.reach,
          verdict: holds(ratio) ? 'holds' : 'falls short',
        },
      ]),
    ),
  );
}
