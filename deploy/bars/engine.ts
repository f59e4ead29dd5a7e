import { ladderOf } from '../../engine/advice/ladder.ts';
import { project } from '../../engine/project.ts';
import { spanOf } from '../../engine/projection/inputs.ts';
import { setupOf } from '../../engine/projection/setup.ts';
import { refit } from '../../engine/refit.ts';
import type { Bar, Figure } from './bar.ts';
import { bareLoop } from './bare-loop.ts';
import { type Evening, simulatedEvening } from './evening.ts';
import { longestWaitMs } from './waiting.ts';

const MEMBERS = 500;
const RUNGS = 15;
const STEP_MS = 300_000;
/** Each figure is the median of so many runs, after some to warm up, so that no pause of the machine and no compiling is it. */
const RUNS = 15;
const WARM_UP = 5;

export const engineBar: Bar = {
  name: 'engine',
  what: 'a projection, the setpoint ladder and a refit of the simulated rig after three weeks, on one core',
  async measure() {
    const evening = await simulatedEvening();
    return [...projectionFigures(evening), ...ladderFigures(evening), ...refitFigures(evening), await waitFigure(evening)];
  },
};

function projectionFigures({ project: { job, bins } }: Evening): Figure[] {
  const { steps } = spanOf(job.snapshot, STEP_MS);
  const projectionMs = medianMs(() => project(job.snapshot, job.plan, job.seed, MEMBERS, bins, { forScreens: false, stepMs: STEP_MS }));
  const bareMs = medianMs(() => bareLoop(MEMBERS, steps));
  return [
    most(`a projection, ${MEMBERS} members and ${steps} steps of 5 min`, projectionMs, 'ms', 25),
    most('the same to a bare loop of that size', projectionMs / bareMs, '', 3),
  ];
}

function ladderFigures({ project: { job, bins } }: Evening): Figure[] {
  const { snapshot } = job;
  const { minisplit } = snapshot.rig;
  if (!minisplit) throw new Error('the simulated rig has no mini-split');
  const wide = { ...snapshot, rig: { ...snapshot.rig, minisplit: { ...minisplit, setpointsC: [16, 16 + RUNGS - 1] as const } } };
  const span = spanOf(wide, STEP_MS);
  const setup = setupOf(wide, job.plan, span, job.seed, MEMBERS, bins);
  const rungs = ladderOf(setup).length;
  if (rungs !== RUNGS) throw new Error(`the ladder has ${rungs} rungs, not ${RUNGS}`);
  const ladderMs = medianMs(() => ladderOf(setup));
  const bareMs = medianMs(() => {
    for (let rung = 0; rung < RUNGS; rung++) bareLoop(MEMBERS, span.steps);
  });
  return [
    most(`a ladder of ${RUNGS} setpoints, ${MEMBERS} members each`, ladderMs, 'ms', 250),
    most('the same to a bare loop of that size', ladderMs / bareMs, '', 3),
  ];
}

const refitFigures = ({ refit: { job, bins } }: Evening): Figure[] => [
  most(
    'a refit of three weeks',
    medianMs(() => refit(bins, job.atMs, job.context)),
    'ms',
    1000,
  ),
];

const waitFigure = async ({ project: { job, bins }, refit: last }: Evening): Promise<Figure> =>
  most(
    'the longest that a reading waits while both are worked on',
    await longestWaitMs([
      { job: last.job, bins: last.bins },
      { job, bins },
    ]),
    'ms',
    20,
  );

const most = (name: string, figure: number, unit: string, bar: number): Figure => ({ name, figure, unit, bar, sense: 'most' });

function medianMs(work: () => unknown): number {
  for (let i = 0; i < WARM_UP; i++) work();
  const times = Array.from({ length: RUNS }, () => {
    const startedMs = performance.now();
    work();
    return performance.now() - startedMs;
  }).sort((a, b) => a - b);
  return times[RUNS >> 1] as number;
}
