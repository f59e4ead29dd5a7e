import { alarmSweepBar } from './alarm-sweep.ts';
import { alarmBars } from './alarms.ts';
import type { Bar } from './bar.ts';
import { engineBar } from './engine.ts';
import { latencyBar } from './latency.ts';
import { noticeWaitBar } from './notices.ts';
import { referenceBar } from './reference.ts';
import { replayBar } from './replay.ts';
import { rulePreviewBar } from './rule-preview.ts';
import { scoreBars } from './score.ts';
import { axeBar } from './screen-axe.ts';
import { bytesBar, firstPaintBar } from './screen-load.ts';
import { mainThreadBar } from './screen-main-thread.ts';
import { memoryBar } from './screen-memory.ts';
import { shiftBar } from './screen-shift.ts';
import { startBar } from './start.ts';
import { throughputBar } from './throughput.ts';

/** Every bar there is; a new one is a file beside these and a line here. */
export const BARS: readonly Bar[] = [
  throughputBar,
  engineBar,
  ...alarmBars,
  noticeWaitBar,
  rulePreviewBar,
  replayBar,
  ...scoreBars,
  alarmSweepBar,
  referenceBar,
  latencyBar,
  bytesBar,
  firstPaintBar,
  mainThreadBar,
  memoryBar,
  shiftBar,
  axeBar,
  startBar,
];
