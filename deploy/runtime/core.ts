import { createPipeline, type Pipeline } from '../../collector/ingest/pipeline.ts';
import type { Writer } from '../../collector/ingest/writer.ts';
import { helpsOf } from '../../engine/alarms/helps.ts';
import { type AlarmState, alarmViews, initialAlarms } from '../../engine/alarms/reduce.ts';
import { rulesOf } from '../../engine/alarms/rule.ts';
import { noBox } from '../../engine/alarms/seen.ts';
import { initialState } from '../../engine/state.ts';
import { type Bin, type EngineState, type EngineTime, type Job, STEP_MS } from '../../engine/types.ts';
import type { Alarm } from '../../shared/schema/alarm.ts';
import type { AlarmRule } from '../../shared/schema/alarm-rule.ts';
import type { Message, Reading } from '../../shared/schema/reading.ts';
import type { RigFile } from '../../shared/schema/rig-file.ts';
import type { EpochMs } from '../../shared/units.ts';
import { type BinHistory, createBinHistory } from './bins.ts';
import { createEngineLoop, type EngineLoop, type EngineLoopOptions, type StepOutcome } from './engine-loop.ts';
import { createPendingJobs, type JobRunner } from './jobs.ts';
import type { Keeper } from './keeper.ts';
import { createRigModels, type RigModels } from './rig-models.ts';

/** Where an earlier run of the same rig left off. */
export interface Resume {
  readonly lastStepMs: EpochMs;
  readonly engine: EngineState | null;
  readonly alarms: AlarmState | null;
  readonly jobs: readonly Job[];
  readonly bins: readonly Bin[];
  /** Alarms are stepped from here on. */
  readonly alarmsFromMs: EpochMs;
}

export interface CoreOptions {
  readonly file: RigFile;
  readonly writer: Pick<Writer, 'push'>;
  readonly keeper: Keeper;
  /** Does a job; null leaves it out. */
  run(job: Job, bins: readonly Bin[]): ReturnType<JobRunner['run']>;
  readonly resume: Resume;
  timeOf(stepMs: EpochMs): EngineTime;
  onJobFault(job: Job, error: unknown): void;
  /** Called with the time that a board tells which knows it, after its readings are taken; left out: nobody asks. */
  onBoardClock?(tMs: EpochMs): void;
  readonly planFor?: NonNullable<EngineLoopOptions['planFor']>;
  /** Left out: nothing is known of the box, as in a replay. */
  readonly box?: EngineLoopOptions['box'];
  /** Called after each step, when what it brought is kept. */
  onStep(outcome: StepOutcome): void;
}

/** Everything between a message and what is known of the rig: decoding, storing, the engine, the alarms. Live and replay run this same part. */
export interface Core {
  readonly pipeline: Pipeline;
  readonly loop: EngineLoop;
  readonly models: RigModels;
  readonly bins: BinHistory;
  /** Takes a message in; gives its readings. `tMs` never falls. */
  accept(message: Message): readonly Reading[];
  /** The alarm rules in force. */
  rules(): readonly AlarmRule[];
  /** Every alarm as it stands, with what would help. */
  alarms(): readonly Alarm[];
  replaceFile(file: RigFile): void;
}

/** The resume of a rig that has never run: the first step is the one before `startMs`. The delays of alarms begin after it, since nothing could be known by then. */
export function freshResume(startMs: EpochMs): Resume {
  const firstMs = Math.floor(startMs / STEP_MS) * STEP_MS;
  return { lastStepMs: firstMs - STEP_MS, engine: null, alarms: null, jobs: [], bins: [], alarmsFromMs: firstMs + STEP_MS };
}

export function createCore(options: CoreOptions): Core {
  const { writer, keeper, resume } = options;
  let { file } = options;
  const pipeline = createPipeline(file);
  const models = createRigModels(file);
  const bins = createBinHistory(resume.bins);
  const jobs = createPendingJobs(options, options.onJobFault);
  for (const job of resume.jobs) jobs.start(job, bins.between(job.fromMs, job.atMs));
  const loop = createEngineLoop({
    engine: resume.engine ?? initialState(models.current(), resume.lastStepMs),
    alarms: resume.alarms ?? initialAlarms(),
    lastStepMs: resume.lastStepMs,
    alarmsFromMs: resume.alarmsFromMs,
    jobs,
    bins,
    rigFor(readings) {
      models.follow(readings);
      return models.current();
    },
    rules: () => rulesOf(file),
    box: options.box ?? (() => noBox),
    timeOf: options.timeOf,
    ...(options.planFor && { planFor: options.planFor }),
    onStep(outcome) {
      const kept = keeper.step(outcome);
      if (!kept) return options.onStep(outcome);
      return kept.then(() => options.onStep(outcome));
    },
  });
  return {
    pipeline,
    loop,
    models,
    bins,
    accept(message) {
      const { readings, forecast, clockMs } = pipeline.accept(message);
      loop.offer(message.tMs, readings, forecast);
      writer.push(readings);
      if (clockMs !== null) options.onBoardClock?.(clockMs);
      return readings;
    },
    rules: () => rulesOf(file),
    alarms() {
      const helps = (id: string) => (id === 'low-point' ? helpsOf(loop.engine().projection, models.current()) : []);
      return alarmViews(loop.alarms(), rulesOf(file), helps);
    },
    replaceFile(next) {
      file = next;
      pipeline.replaceFile(next);
      models.replaceFile(next);
      loop.projectSoon();
    },
  };
}
