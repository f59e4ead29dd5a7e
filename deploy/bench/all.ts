import type { Bar } from '../bars/bar.ts';
import { copyBench } from './copy.ts';
import { embeddedBrokerBench } from './embedded-broker.ts';
import { fleetBench } from './fleet.ts';
import { ingestBench } from './ingest.ts';
import { memoryBench } from './memory.ts';
import { outsideBrokerBench } from './outside-broker.ts';
import { storeCutsBench } from './store-cuts.ts';
import { storeReadsBench } from './store-reads.ts';
import { storeSizeBench } from './store-size.ts';
import { storeWritesBench } from './store-writes.ts';

/** Every bench there is; a new one is a file beside these and a line here. */
export const BENCHES: readonly Bar[] = [
  ingestBench,
  outsideBrokerBench,
  embeddedBrokerBench,
  storeSizeBench,
  storeWritesBench,
  storeReadsBench,
  storeCutsBench,
  copyBench,
  fleetBench,
  memoryBench,
];
