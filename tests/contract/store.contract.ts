import type { RigStore, TimeSeriesStore } from '../../shared/ports.ts';
import { storeDocuments } from './store-documents.ts';
import { storeFacts } from './store-facts.ts';
import { storeHistory } from './store-history.ts';
import { storeLifecycle } from './store-lifecycle.ts';
import { storeReadings } from './store-readings.ts';

/** A store of its own for each test, not yet open, and what removes its traces. */
export interface StoreUnderTest<S extends TimeSeriesStore = RigStore> {
  readonly store: S;
  remove(): Promise<void>;
}

/** What every store must do that keeps readings. Where an adapter cannot, its `supports` says so and the suite goes by that. */
export function seriesContract(make: () => Promise<StoreUnderTest<TimeSeriesStore>>): void {
  storeLifecycle(make);
  storeReadings(make);
  storeHistory(make);
}

/** What every store must do that keeps readings and documents. */
export function storeContract(make: () => Promise<StoreUnderTest>): void {
  seriesContract(make);
  storeDocuments(make);
  storeFacts(make);
}
