import { fileURLToPath } from 'node:url';
import { loadRigFile } from '../../collector/config/load.ts';
import { createWriter } from '../../collector/ingest/writer.ts';
import { createMemoryStore } from '../../collector/store/memory.ts';
import type { Bin, ProjectJob, RefitJob } from '../../engine/types.ts';
import { createSimulatedRig, DEMO_SEED } from '../demo/rig.ts';
import { createCore, freshResume } from '../runtime/core.ts';
import { inlineRunner } from '../runtime/jobs.ts';
import { createKeeper } from '../runtime/keeper.ts';

const DAYS = 21;
const HOUR_MS = 3_600_000;
const START_MS = Date.UTC(2026, 9, 27);
const CADENCE_S = 20;

/** The jobs of an evening, with the history that each asks for. */
export interface Evening {
  readonly project: { readonly job: ProjectJob; readonly bins: readonly Bin[] };
  readonly refit: { readonly job: RefitJob; readonly bins: readonly Bin[] };
}

/** Lets the simulated rig live for three weeks and gives the first projection of its last night and the refit before it. */
export async function simulatedEvening(): Promise<Evening> {
  const { file } = await loadRigFile(fileURLToPath(new URL('../demo/heron.yaml', import.meta.url)));
  const store = createMemoryStore();
  await store.open();
  const fail = (error: unknown) => {
    throw error;
  };
  const writer = createWriter({ store, commitEveryMs: 60_000, timers: { after: () => () => {} }, onFault: fail, onRecovered: () => {} });
  const keeper = createKeeper({ store, rigId: file.rig.id, onFault: fail, onRecovered: () => {} });
  let refit: Evening['refit'] | null = null;
  let evening: Evening | null = null;
  const core = createCore({
    file,
    writer,
    keeper,
    run(job, bins) {
      if (job.kind === 'refit') refit = { job, bins };
      const isNewNight = job.kind === 'project' && job.snapshot.night !== null && job.snapshot.night.startMs !== evening?.project.job.snapshot.night?.startMs;
      if (isNewNight && refit) evening = { project: { job, bins }, refit };
      // Of projections only those that the engine judges itself by are made.
      return job.kind === 'project' && job.atMs % HOUR_MS !== 0 ? null : inlineRunner.run(job, bins, false);
    },
    resume: freshResume(START_MS),
    timeOf: (stepMs) => ({ wallMs: stepMs, monoMs: stepMs - START_MS, bootId: 'bar', clockSure: true }),
    onJobFault: (_job, error) => fail(error),
    onStep: () => {},
  });
  const rig = createSimulatedRig({ seed: DEMO_SEED, startMs: START_MS, cadenceS: CADENCE_S });
  for (let tMs = START_MS + HOUR_MS; tMs <= START_MS + DAYS * 24 * HOUR_MS; tMs += HOUR_MS) {
    const messages: { tMs: number; topic: string; payload: Buffer; retained: boolean }[] = [];
    rig.advance(tMs, ({ payload, ...message }) => messages.push({ ...message, payload: Buffer.from(payload), retained: false }));
    for (const message of messages) {
      if (core.loop.nextStepMs() < message.tMs) await core.loop.advanceTo(message.tMs);
      core.accept(message);
    }
    await Promise.all([writer.flush(), keeper.flush()]);
  }
  await store.close();
  if (evening === null) throw new Error('the simulated rig lived through no evening');
  return evening;
}
