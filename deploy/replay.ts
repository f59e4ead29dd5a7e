import { createWriter } from '../collector/ingest/writer.ts';
import { createMemoryStore } from '../collector/store/memory.ts';
import { runJob } from '../engine/jobs.ts';
import { BIN_MS, STEP_MS } from '../engine/types.ts';
import { reasonOf } from '../shared/errors.ts';
import type { RigStore } from '../shared/ports.ts';
import type { Message } from '../shared/schema/reading.ts';
import type { RigFile } from '../shared/schema/rig-file.ts';
import type { EpochMs } from '../shared/units.ts';
import { alarmLine, floorsLine, nightLine, projectionLine, type SummaryLine } from './recording/output-lines.ts';
import { readRecording } from './recording/read.ts';
import { type Core, createCore, freshResume } from './runtime/core.ts';
import { createKeeper } from './runtime/keeper.ts';

export interface ReplayOptions {
  readonly file: RigFile;
  readonly recording: string;
  /** Gets each line of the output, without its line end. */
  readonly write: (line: string) => void;
  readonly onBadLine: (lineNumber: number, reason: string) => void;
  readonly onFault: (what: string) => void;
  readonly onProgress?: (share: number) => void;
  /** Floors, percent, whose probabilities are written with each projection; left out: none. */
  readonly floorsPct?: readonly number[];
  /** An open store to fill; left out: one in memory that keeps two days. */
  readonly store?: RigStore;
}

/** How often readings are committed and old ones dropped, in the recording's time. */
const COMMIT_MS = 60_000;
const RETAIN_MS = 6 * 3_600_000;
const KEPT_MS = 48 * 3_600_000;

const isMark = (tMs: EpochMs): boolean => tMs % BIN_MS === 0;

/** Drives collector, store, engine and alarms by the recording's own clock, as fast as it goes. */
export async function replay(options: ReplayOptions): Promise<SummaryLine> {
  const { file, write, onFault, floorsPct = [] } = options;
  const rigId = file.rig.id;
  const store = options.store ?? createMemoryStore();
  if (!options.store) await store.open();
  const fault = (what: string) => (error: unknown) => onFault(`${what}: ${reasonOf(error)}`);
  const writer = createWriter({ store, commitEveryMs: COMMIT_MS, timers: { after: () => () => {} }, onFault: fault('the store fails'), onRecovered: () => {} });
  const keeper = createKeeper({ store, rigId, onFault: fault('the store fails'), onRecovered: () => {} });
  const line = (body: object) => write(JSON.stringify(body));
  let core: Core | null = null;
  let nowMs = Number.NEGATIVE_INFINITY;
  let firstMs: EpochMs = 0;
  let messages = 0;
  let badLines = 0;
  let readings = 0;
  let committedMs = 0;
  let retainedMs = 0;

  const begin = (startMs: EpochMs): Core => {
    firstMs = startMs;
    committedMs = startMs;
    retainedMs = startMs;
    return createCore({
      file,
      writer,
      keeper,
      // What only screens show stands in no line of the output.
      run: (job, bins) =>
        runJob(job, bins, {
          forScreens: false,
          ...(floorsPct.length > 0 &&
            isMark(job.atMs) && { onOutcome: ({ chanceBelow }, s) => line(floorsLine(s.tMs, !s.bankSilent, floorsPct, chanceBelow)) }),
        }),
      resume: freshResume(startMs),
      timeOf: (stepMs) => ({ wallMs: stepMs, monoMs: stepMs - startMs, bootId: 'replay', clockSure: true }),
      onJobFault: (job, error) => onFault(`the job ${job.id} failed: ${reasonOf(error)}`),
      onStep({ observation, changes }) {
        // A rig's first minutes have more of them; the output has one a mark.
        if (observation.projection && isMark(observation.projection.tMs)) line(projectionLine(observation.projection));
        for (const change of changes) line(alarmLine(change));
        for (const night of observation.nights) line(nightLine(night));
      },
    });
  };

  async function accept(message: Message): Promise<void> {
    // A recording is in order of arrival; a line whose clock went back counts as arriving with the one before it.
    nowMs = Math.max(nowMs, message.tMs);
    core ??= begin(nowMs);
    if (core.loop.nextStepMs() < nowMs) await core.loop.advanceTo(nowMs);
    messages += 1;
    readings += core.accept(message.tMs === nowMs ? message : { ...message, tMs: nowMs }).length;
    if (nowMs - committedMs >= COMMIT_MS) {
      committedMs = nowMs;
      await writer.flush();
    }
    if (!options.store && nowMs - retainedMs >= RETAIN_MS) {
      retainedMs = nowMs;
      await store.retain(rigId, nowMs - KEPT_MS);
    }
  }

  const onBadLine = (lineNumber: number, reason: string) => {
    badLines += 1;
    options.onBadLine(lineNumber, reason);
  };
  for await (const batch of readRecording(options.recording, { onBadLine, ...(options.onProgress && { onProgress: options.onProgress }) })) {
    for (const message of batch) await accept(message);
  }
  if (core) await (core as Core).loop.advanceTo(Math.floor(nowMs / STEP_MS) * STEP_MS + STEP_MS + 1);
  await writer.close();
  await keeper.flush();
  if (!options.store) await store.close();

  const rejected: Record<string, number> = {};
  for (const { rejected: reasons } of core ? (core as Core).pipeline.report(nowMs).signals : []) {
    for (const { reason, count } of reasons) rejected[reason] = (rejected[reason] ?? 0) + count;
  }
  if (badLines > 0) rejected['bad-line'] = badLines;
  const seconds = messages === 0 ? 0 : Math.round((nowMs - firstMs) / 1000);
  const summary: SummaryLine = { kind: 'summary', messages, readings, rejected, seconds };
  line(summary);
  return summary;
}
