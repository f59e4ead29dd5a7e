import { afterEach, expect, test } from 'vitest';
import { createPreviewThread, previewHere } from '../../../deploy/runtime/preview-thread.ts';
import { LEAD_MS, type PreviewQuestion } from '../../../engine/alarms/preview.ts';
import { nightSpans } from '../../../engine/alarms/preview-nights.ts';
import { initialState } from '../../../engine/state.ts';
import { ownRules } from '../../helpers/engine-alarm.ts';
import { DAY_MS, NOON_MS, rigOf } from '../../helpers/engine-rig.ts';
import { pastOf } from '../../helpers/stored-past.ts';

const rig = rigOf({ everyS: new Map([['cabin.temperature', 60]]), temperatures: ['cabin.temperature'] });
const spans = nightSpans('UTC', NOON_MS, 4);
const rules = ownRules({ id: 'hot', when: { watch: 'cabin.temperature', above: 30 }, priority: 'medium', onDelay: 300, offDelay: 600 });
const question: PreviewQuestion = { ruleId: 'hot', rules, rig, engine: initialState(rig, NOON_MS - 40 * DAY_MS), spans };

async function* stretches(failAt = Number.POSITIVE_INFINITY) {
  const firstMs = spans[0]?.fromMs ?? 0;
  for (const [i, { fromMs, toMs }] of [{ fromMs: firstMs - LEAD_MS, toMs: firstMs }, ...spans].entries()) {
    if (i === failAt) throw new Error('the disk is gone');
    yield pastOf({ 'cabin.temperature': (tMs) => 28 + 5 * Math.sin(tMs / 3_000_000) }, fromMs, toMs);
  }
}

const thread = createPreviewThread();
afterEach(() => thread.close());

test('what comes out of the thread is what comes out here, again and again', async () => {
  const here = await previewHere.run(question, stretches());
  expect(here.soundings).toBeGreaterThan(3);
  expect(await thread.run(question, stretches())).toEqual(here);
  expect(await thread.run(question, stretches())).toEqual(here);
});

test('a store that fails in the middle, and a thread that fails, are told; the next preview begins anew', async () => {
  await expect(thread.run(question, stretches(2))).rejects.toThrow('the disk is gone');
  await expect(thread.run({ ...question, rules: null as never }, stretches())).rejects.toThrow('a preview failed in its thread');
  expect(await thread.run(question, stretches())).toEqual(await previewHere.run(question, stretches()));
});

test('one under way when the rig stops is told', async () => {
  const under = thread.run(question, stretches());
  const told = expect(under).rejects.toThrow('the thread for previews ended');
  await thread.close();
  await told;
});
