import { createReadStream } from 'node:fs';
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import { createGunzip } from 'node:zlib';
import { expect, test } from 'vitest';
import { parseRigFile } from '../../collector/config/load.ts';
import { createMemoryStore } from '../../collector/store/memory.ts';
import { replay } from '../../deploy/replay.ts';
import { createPreviewPort } from '../../deploy/runtime/preview-port.ts';
import { previewHere } from '../../deploy/runtime/preview-thread.ts';
import { rulesOf } from '../../engine/alarms/rule.ts';
import { rigModel } from '../../engine/rig-model.ts';
import { initialState } from '../../engine/state.ts';
import type { Bin } from '../../engine/types.ts';
import { RulePreviewQuestion } from '../../shared/schema/rule-preview.ts';

const DAY_MS = 86_400_000;
const DAYS = 4;
/** The floor is set high, so that the rules about it have something to say. */
const OWN = `
alarms:
  - { id: draw, title: Hard at work, when: { watch: minisplit.power, above: 500 }, priority: low, onDelay: 60 s, offDelay: 300 s }
  - { id: mean, title: At work for long, when: { watch: minisplit.meanW, above: 300 }, priority: low, onDelay: 300 s }
  - { id: half, title: Half empty, when: { watch: bank.socPct, below: 60 }, priority: low, onDelay: 60 s }
`;

/** The first days of a recording, as plain lines. */
async function beginningOf(path: string): Promise<string> {
  const lines: string[] = [];
  let endMs = Number.POSITIVE_INFINITY;
  const input = createReadStream(path);
  for await (const line of createInterface({ input: input.pipe(createGunzip()) })) {
    const { t } = JSON.parse(line) as { t: number };
    if (lines.length === 0) endMs = t + DAYS * DAY_MS;
    if (t >= endMs) break;
    lines.push(line);
  }
  input.destroy();
  return `${lines.join('\n')}\n`;
}

test('the preview of every rule over a recording gives the raises that the run itself gave', async () => {
  const folder = await mkdtemp(join(tmpdir(), 'dawnhold-preview-'));
  const recording = join(folder, 'days.jsonl');
  await writeFile(recording, await beginningOf(new URL('../../../shared/recordings/mesa/messages.jsonl.gz', import.meta.url).pathname));
  const text = await readFile(new URL('../fixtures/rigs/mesa.yaml', import.meta.url), 'utf8');
  const file = parseRigFile(text.replace(/floor: \d+/, 'floor: 65') + OWN, 'mesa.yaml');
  const store = createMemoryStore();
  await store.open();
  const alarms: { tMs: number; id: string; condition: unknown; lifecycle: string; suppression: string }[] = [];
  const write = (line: string) => void (line.includes('"kind":"alarm"') && alarms.push(JSON.parse(line)));
  const fail = (what: unknown) => expect.fail(String(what));
  await replay({ file, recording, store, write, onBadLine: fail, onFault: fail });

  const bins = (await store.list('bin', 0, Number.MAX_SAFE_INTEGER)).map(({ body }) => JSON.parse(body) as Bin);
  const nowMs = (bins.at(-1)?.tMs ?? 0) + 600_000;
  const rig = rigModel(file, 'America/Denver');
  // A store in memory keeps no checkpoint, so the engine is taken as it was at its first step.
  const engine = initialState(rig, bins[0]?.tMs ?? 0);
  const between = (fromMs: number, toMs: number) => bins.filter(({ tMs }) => tMs >= fromMs && tMs < toMs);
  const port = createPreviewPort({
    store,
    rigId: file.rig.id,
    bins: between,
    file: () => file,
    rig: () => rig,
    engine: () => engine,
    nowMs: () => nowMs,
    runner: previewHere,
  });
  let raises = 0;
  for (const { id } of rulesOf(file)) {
    const entry = file.alarms.find((one) => one.id === id) ?? { id };
    const preview = await port.rulePreview(RulePreviewQuestion.parse({ entry, nights: DAYS }));
    if (preview.nights.every(({ seenShare }) => seenShare === 0)) continue;
    const live: number[] = [];
    let stands = false;
    for (const { tMs, condition, lifecycle, suppression } of alarms.filter((change) => change.id === id)) {
      if (condition !== false && !stands && lifecycle === 'unacknowledged' && suppression === 'none') live.push(tMs);
      stands = condition !== false && (stands || suppression === 'none');
    }
    const raised = preview.nights.flatMap(({ soundings }) => soundings.map(({ raisedMs }) => raisedMs));
    const since = live.filter((tMs) => tMs > preview.fromMs);
    expect([id, raised.length]).toEqual([id, since.length]);
    // A step of a minute, the noise within it, and that the state of charge is drawn as a line between two bins.
    for (const [i, tMs] of raised.entries()) expect([id, Math.abs(tMs - (since[i] ?? 0)) <= 240_000]).toEqual([id, true]);
    raises += raised.length;
  }
  expect(raises).toBeGreaterThan(10);
  await store.close();
  await rm(folder, { recursive: true, force: true });
});
