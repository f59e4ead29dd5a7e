import type { Bar } from './bar.ts';
import { engineBar } from './engine.ts';
import { latencyBar } from './latency.ts';
import { referenceBar } from './reference.ts';
import { replayBar } from './replay.ts';
import { scoreBars } from './score.ts';
import { startBar } from './start.ts';
import { throughputBar } from './throughput.ts';

/** Every bar there is; a new one is a file beside these and a line here. */
export const BARS: readonly Bar[] = [throughputBar, engineBar, replayBar, ...scoreBars, referenceBar, latencyBar, startBar];
