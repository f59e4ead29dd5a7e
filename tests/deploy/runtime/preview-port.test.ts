import { afterEach, beforeEach, expect, test } from 'vitest';
import { parseRigFile } from '../../../collector/config/load.ts';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import { createPreviewPort } from '../../../deploy/runtime/preview-port.ts';
import { previewHere } from '../../../deploy/runtime/preview-thread.ts';
import { initialState } from '../../../engine/state.ts';
import { BIN_MS } from '../../../engine/types.ts';
import type { RigFile } from '../../../shared/schema/rig-file.ts';
import { RulePreview, RulePreviewQuestion } from '../../../shared/schema/rule-preview.ts';
import { DAY_MS, NOON_MS, readingOf, rigOf } from '../../helpers/engine-rig.ts';
import { pastOf } from '../../helpers/stored-past.ts';

const MINUTE_MS = 60_000;
const file: RigFile = parseRigFile(
  `rig: { id: finch, name: Finch }
place: { latitude: 38, longitude: 0, timeZone: UTC }
bank: { chemistry: LiFePO4, cells: 8, capacityAh: 200, floor: 30 }
signals:
  bank.voltage: { topic: finch/v, unit: V }
  bank.current: { topic: finch/a, unit: A }
  cabin.temperature: { topic: finch/cabin, unit: Cel, every: 60 s }
`,
  'finch.yaml',
);
const rig = rigOf({ everyS: new Map([['cabin.temperature', 60]]) });
const hot = (limit: number) =>
  RulePreviewQuestion.parse({ entry: { id: 'hot', when: { watch: 'cabin.temperature', above: limit }, priority: 'low', onDelay: 300 }, nights: 2 });

let store: ReturnType<typeof createMemoryStore>;
let reads = 0;
const portOf = () =>
  createPreviewPort({
    store: {
      ...store,
      minutes: (...of) => {
        reads += 1;
        return store.minutes(...of);
      },
    },
    rigId: 'finch',
    bins: (fromMs, toMs) => pastOf({}, Math.ceil(fromMs / BIN_MS) * BIN_MS + 2 * BIN_MS, toMs).bins,
    file: () => file,
    rig: () => rig,
    engine: () => initialState(rig, NOON_MS - 30 * DAY_MS),
    nowMs: () => NOON_MS,
    runner: previewHere,
  });

beforeEach(async () => {
  reads = 0;
  store = createMemoryStore();
  await store.open();
  // Half an hour of heat at six in the evening, on each of three days.
  const minutes = Array.from({ length: 3 * 1440 }, (_, i) => NOON_MS - 3 * DAY_MS + i * MINUTE_MS);
  await store.append(minutes.map((tMs) => readingOf('cabin.temperature', tMs, tMs % DAY_MS >= 18 * 3_600_000 && tMs % DAY_MS < 18.5 * 3_600_000 ? 32 : 24)));
});
afterEach(() => store.close());

test('a rule is followed through what is stored, night by night', async () => {
  const answer = RulePreview.parse(await portOf().rulePreview(hot(30)));
  expect(answer.nights.map(({ nightId, soundings, seenShare }) => [nightId, soundings.length, seenShare])).toEqual([
    ['2025-07-08', 1, 1],
    ['2025-07-09', 1, 1],
  ]);
  const raised = answer.nights[1]?.soundings[0]?.raisedMs ?? 0;
  expect(Math.abs(raised - (NOON_MS - DAY_MS + 6 * 3_600_000 + 300_000))).toBeLessThanOrEqual(MINUTE_MS);
});

test('the same question again is not worked out again', async () => {
  const port = portOf();
  const [first, again] = [await port.rulePreview(hot(30)), await port.rulePreview(hot(30))];
  expect(again).toBe(first);
  expect(reads).toBe(3);
});

test('one is worked out, one waits: the newest question takes the place of the one that waits', async () => {
  const port = portOf();
  const answers = await Promise.allSettled([30, 31, 33].map((limit) => port.rulePreview(hot(limit))));
  expect(answers.map((answer) => (answer.status === 'fulfilled' ? answer.value.soundings : answer.reason.code))).toEqual([2, 'TOO_BUSY', 0]);
  // What was refused may be asked again.
  expect((await port.rulePreview(hot(31))).soundings).toBe(2);
});

test('mistakes of the entry are refused, each in words with its key', async () => {
  const port = portOf();
  const wrong = RulePreviewQuestion.parse({ entry: { id: 'hot', when: { watch: 'cabin.heat', above: 30 }, priority: 'low' } });
  await expect(async () => port.rulePreview(wrong)).rejects.toMatchObject({
    code: 'REQUEST_INVALID',
    issues: [{ path: 'when.watch', got: 'the text "cabin.heat"' }],
  });
  expect(reads).toBe(0);
});

test('what cannot be watched, or is not stored, is said without reading anything', async () => {
  const port = portOf();
  const of = (id: string) => port.rulePreview(RulePreviewQuestion.parse({ entry: { id }, nights: 2 }));
  expect(await of('cell-low')).toMatchObject({ notWatched: expect.stringContaining('“Lowest cell”'), soundings: 0 });
  const lost = await of('broker-lost');
  expect([lost.notRebuilt.length, lost.nights.every(({ seenShare }) => seenShare === 0), reads]).toEqual([1, true, 0]);
});
