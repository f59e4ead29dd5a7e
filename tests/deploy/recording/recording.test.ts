import { appendFile, readFile, stat, truncate, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import fc from 'fast-check';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { temporaryFolder } from '../../../deploy/bars/processes.ts';
import { readRecording } from '../../../deploy/recording/read.ts';
import { openRecording, recordingLine } from '../../../deploy/recording/write.ts';
import type { Message } from '../../../shared/schema/reading.ts';

let folder: Awaited<ReturnType<typeof temporaryFolder>>;
beforeAll(async () => {
  folder = await temporaryFolder();
});
afterAll(() => folder.remove());

const T0 = Date.UTC(2026, 5, 1);

async function readAll(path: string) {
  const messages: Message[] = [];
  const bad: [number, string][] = [];
  for await (const batch of readRecording(path, { onBadLine: (lineNumber, reason) => bad.push([lineNumber, reason]) })) messages.push(...batch);
  return { messages, bad };
}
const message = (tMs: number, payload: Uint8Array | string): Message => ({ tMs, topic: 'a/b', payload: Buffer.from(payload), retained: false });
const bytesOf = ({ payload }: Message) => [...payload];

describe.each(['plain.jsonl', 'zipped.jsonl.gz'])('a recording in %s', (name) => {
  test('gives back any payload, also after it was opened a second time', async () => {
    const path = join(folder.path, name);
    const payloads = fc.sample(fc.uint8Array({ maxLength: 40 }), 60);
    for (const part of [payloads.slice(0, 30), payloads.slice(30)]) {
      const recording = await openRecording(path);
      for (const [index, payload] of part.entries()) recording.add(message(T0 + index, payload));
      await recording.close();
    }
    const { messages, bad } = await readAll(path);
    expect(messages.map(bytesOf)).toEqual(payloads.map((payload) => [...payload]));
    expect(bad).toEqual([]);
  });
});

test('text stays text and bytes that are no UTF-8 become base64', () => {
  expect(recordingLine(message(1, '{"v":1}'))).toEqual({ t: 1, topic: 'a/b', payload: '{"v":1}' });
  expect(recordingLine(message(1, new Uint8Array([0xff, 0x00])))).toEqual({ t: 1, topic: 'a/b', payloadBase64: '/wA=' });
});

test('a line cut off by a power cut does not spoil the first line after it', async () => {
  const path = join(folder.path, 'cut.jsonl');
  await writeFile(path, `{"t":${T0 + 1},"topic":"a/b","payload":"1"}\n{"t":2,"topic":"a/`);
  const recording = await openRecording(path);
  recording.add(message(T0 + 3, '3'));
  await recording.close();
  const { messages, bad } = await readAll(path);
  expect(messages.map(({ tMs }) => tMs)).toEqual([T0 + 1, T0 + 3]);
  expect(bad.map(([lineNumber]) => lineNumber)).toEqual([2]);
});

test('lines that do not fit are told by number and reason, and the rest is read', async () => {
  const path = join(folder.path, 'bad.jsonl');
  const good = `{"t":${T0},"topic":"a/b","payload":"1"}`;
  await writeFile(
    path,
    [good, 'nonsense', '{"t":"soon","topic":"a/b","payload":"1"}', `{"t":${T0},"topic":"a/b"}`, '', `"${'x'.repeat(1 << 20)}"`, good].join('\n'),
  );
  const { messages, bad } = await readAll(path);
  expect(messages).toHaveLength(2);
  expect(bad.map(([lineNumber]) => lineNumber)).toEqual([2, 3, 4, 6]);
  expect(bad[1]?.[1]).toMatch(/^t: /);
  expect(bad[3]?.[1]).toMatch(/longer than/);
});

test('a time outside of 2000 to 2200 and a jump of more than 400 days are bad lines, and the next right one is read', async () => {
  const path = join(folder.path, 'times.jsonl');
  const days = (count: number) => T0 + count * 86_400_000;
  const times = [T0, 0, Date.UTC(2200, 0, 1) + 1, days(401), days(-401), days(400), days(1)];
  await writeFile(path, times.map((t) => JSON.stringify({ t, topic: 'a/b', payload: '1' })).join('\n'));
  const { messages, bad } = await readAll(path);
  expect(messages.map(({ tMs }) => tMs)).toEqual([T0, days(400), days(1)]);
  expect(bad).toEqual([
    [2, expect.stringMatching(/^t: not before 2000/)],
    [3, expect.stringMatching(/^t: not after 2200/)],
    [4, expect.stringMatching(/^t: 401 days/)],
    [5, expect.stringMatching(/^t: 401 days/)],
  ]);
});

/** A gzip recording of some writes of a hundred messages each, cut `left` bytes before its end. */
async function cutRecording(name: string, writes: number, left: number): Promise<string> {
  const path = join(folder.path, name);
  const recording = await openRecording(path);
  for (let write = 0; write < writes; write += 1) {
    for (let i = 0; i < 100; i += 1) recording.add(message(T0 + 100 * write + i, `${Math.sin(write * 100 + i)}`));
    await recording.flush();
  }
  await recording.close();
  await truncate(path, (await stat(path)).size - left);
  return path;
}
const timesOf = ({ messages }: { messages: readonly Message[] }) => messages.map(({ tMs }) => tMs - T0);
const upTo = (count: number) => Array.from({ length: count }, (_, i) => i);

describe('a gzip recording cut in the middle of a write', () => {
  test.each([1, 5, 300, 700])('by %d bytes is read up to the cut, and the cut is told', async (left) => {
    const read = await readAll(await cutRecording(`cut-${left}.jsonl.gz`, 3, left));
    expect(timesOf(read)).toEqual(upTo(read.messages.length));
    expect(read.messages.length).toBeGreaterThanOrEqual(200);
    expect(read.messages.length).toBeLessThanOrEqual(300);
    expect(read.bad).toEqual([[read.messages.length + 1, expect.stringMatching(/^the file breaks off here/)]]);
  });

  test('loses nothing of what is added afterwards, nor of what had been read', async () => {
    const path = await cutRecording('added.jsonl.gz', 3, 300);
    const before = await readAll(path);
    const recording = await openRecording(path);
    recording.add(message(T0 + 1000, 'after'));
    await recording.close();
    const after = await readAll(path);
    expect(timesOf(after)).toEqual([...timesOf(before), 1000]);
    expect(after.bad).toEqual([]);
  });

  test('in its first write, or with nothing left but a header, can still be added to', async () => {
    for (const [name, left] of [
      ['first.jsonl.gz', 200],
      ['header.jsonl.gz', (await stat(await cutRecording('whole.jsonl.gz', 1, 0))).size - 12],
    ] as const) {
      const path = await cutRecording(name, 1, left);
      const before = await readAll(path);
      const recording = await openRecording(path);
      recording.add(message(T0 + 1000, 'after'));
      await recording.close();
      expect(timesOf(await readAll(path))).toEqual([...timesOf(before), 1000]);
    }
  });

  test('that is damaged, not only cut, is refused with the line that it reached, and nothing is added to it', async () => {
    const path = await cutRecording('damaged.jsonl.gz', 1, 0);
    await appendFile(path, Buffer.concat([(await readFile(path)).subarray(0, 30), Buffer.alloc(200, 0xa5)]));
    const bytes = await readFile(path);
    await expect(readAll(path)).rejects.toMatchObject({ code: 'RECORDING_INVALID', message: expect.stringMatching(/breaks off after line \d+/) });
    await expect(openRecording(path)).rejects.toMatchObject({ code: 'RECORDING_INVALID', message: expect.stringContaining('name another file') });
    expect(await readFile(path)).toEqual(bytes);
  });
});
