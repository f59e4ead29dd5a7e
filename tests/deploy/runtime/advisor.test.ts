import { describe, expect, test } from 'vitest';
import { createAdvisor } from '../../../deploy/runtime/advisor.ts';
import { inlineRunner, type JobRunner } from '../../../deploy/runtime/jobs.ts';
import type { Plan, ProjectJob } from '../../../engine/types.ts';
import { type Advice, AdviceQuestion } from '../../../shared/schema/advice.ts';
import { HOUR_MS, rigOf } from '../../helpers/engine-rig.ts';
import { lived, SUNSET_MS, snapshotOf } from '../../helpers/engine-snapshot.ts';

const rig = rigOf({ capacityAh: 400 });
const { learned, bins } = lived(rig, { days: 10 });
const jobAt = (socFrac: number): ProjectJob => ({
  kind: 'project',
  id: 'p',
  atMs: SUNSET_MS,
  dueMs: SUNSET_MS + 10_000,
  fromMs: SUNSET_MS - 2 * HOUR_MS,
  snapshot: snapshotOf(rig, learned, { socFrac }),
  plan: { loads: [] },
  seed: 5,
  members: 100,
});
const tonight = AdviceQuestion.parse({ kind: 'tonight' });
const kettle = AdviceQuestion.parse({ kind: 'run', powerW: 1500, minutes: 10, startMs: SUNSET_MS + HOUR_MS });

/** An advisor over a runner that counts, and may be told to wait for the test. */
function underTest() {
  const done = { jobs: 0, let: Promise.resolve() };
  const plan: { now: Plan } = { now: { loads: [] } };
  const runner: JobRunner = {
    ...inlineRunner,
    async run(job, history, forScreens) {
      await done.let;
      done.jobs += 1;
      return inlineRunner.run(job, history, forScreens);
    },
  };
  return { advisor: createAdvisor({ runner, bins: () => bins, plan: () => plan.now }), done, plan };
}

const lowOf = (advice: Advice): number => (advice.kind === 'tonight' ? advice.base.lowPoint.p50Pct : advice.before.lowPoint.p50Pct);

describe('questions about the night ahead', () => {
  test('are answered from where the last projection started, and once each', async () => {
    const { advisor, done } = underTest();
    advisor.noted(jobAt(0.8));
    const first = await advisor.ask(tonight);
    expect(await advisor.ask(tonight)).toBe(first);
    expect(await advisor.ask(kettle)).toMatchObject({ kind: 'run', verdict: 'yes' });
    expect(done.jobs).toBe(2);
    advisor.noted(jobAt(0.6));
    expect(lowOf(await advisor.ask(tonight))).toBeLessThan(lowOf(first) - 15);
  });

  test('count the loads that were announced since', async () => {
    const { advisor, plan } = underTest();
    advisor.noted(jobAt(0.8));
    const before = await advisor.ask(tonight);
    plan.now = { loads: [{ name: 'oven', startMs: SUNSET_MS + HOUR_MS, endMs: SUNSET_MS + 3 * HOUR_MS, powerW: 900 }] };
    expect(lowOf(await advisor.ask(tonight))).toBeLessThan(lowOf(before) - 10);
  });

  test('cannot be answered before the first projection', async () => {
    await expect(underTest().advisor.ask(tonight)).rejects.toMatchObject({ code: 'NOT_FOUND' });
  });

  test('wait two at a time, so that projections get their turn', async () => {
    const { advisor, done } = underTest();
    let go = () => {};
    done.let = new Promise((resolve) => {
      go = resolve;
    });
    advisor.noted(jobAt(0.8));
    const asked = [1, 2].map((hours) => advisor.ask({ ...kettle, startMs: SUNSET_MS + hours * HOUR_MS } as AdviceQuestion));
    await expect(advisor.ask(tonight)).rejects.toMatchObject({ code: 'TOO_BUSY' });
    go();
    await Promise.all(asked);
    expect(await advisor.ask(tonight)).toMatchObject({ kind: 'tonight' });
  });

  test('that could not be answered may be asked again', async () => {
    const { advisor, done } = underTest();
    advisor.noted(jobAt(0.8));
    done.let = Promise.reject(new Error('the thread for jobs ended'));
    await expect(advisor.ask(kettle)).rejects.toThrow('the thread for jobs ended');
    done.let = Promise.resolve();
    expect(await advisor.ask(kettle)).toMatchObject({ kind: 'run' });
  });
});
