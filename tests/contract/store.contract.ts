import type { RigStore } from '../../shared/ports.ts';
import { storeDocuments } from './store-documents.ts';
import { storeFacts } from './store-facts.ts';
import { storeHistory } from './store-history.ts';
import { storeLifecycle } from './store-lifecycle.ts';
import { storeReadings } from './store-readings.ts';

/** A store of its own for each test, not yet open, and what removes its traces. */
export interface StoreUnderTest {
  readonly store: RigStore;
  remove(): Promise<void>;
}

/** What every store must do. Where an adapter cannot, its `supports` says so and the suite goes by that. */
export function storeContract(make: () => Promise<StoreUnderTest>): void {
  storeLifecycle(make);
  storeReadings(make);
  storeHistory(make);
  storeDocuments(make);
  storeFacts(make);
}
