import type { Bar } from './bar.ts';
import { latencyBar } from './latency.ts';
import { replayBar } from './replay.ts';
import { scoreBar } from './score.ts';
import { startBar } from './start.ts';
import { throughputBar } from './throughput.ts';

/** Every bar there is; a new one is a file beside these and a line here. */
export const BARS: readonly Bar[] = [throughputBar, replayBar, scoreBar, latencyBar, startBar];
