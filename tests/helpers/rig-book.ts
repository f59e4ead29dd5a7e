import type { RigBook } from '../../shared/schema/rig-book.ts';
import { RigFile } from '../../shared/schema/rig-file.ts';

const { rig, bank, panels, broker, store, signals, routes } = RigFile.parse({
  rig: { id: 'heron', name: 'Heron' },
  bank: { cells: 8, capacityAh: 280 },
  signals: { 'bank.voltage': { topic: 'v' }, 'bank.current': { topic: 'a' } },
});

/** The book of a small rig. */
export const rigBook: RigBook = {
  hash: 'abc',
  whyFixed: '',
  setUp: true,
  sections: { rig, place: null, bank, inverter: null, panels, minisplit: null, broker, store },
  signals: [...signals.specs].map(([name, spec]) => ({ name, spec })),
  forecast: null,
  routes: Object.entries(routes).map(([name, { kind }]) => ({ name, kind })),
  capacityLearnedAh: 271.5,
  versions: [{ name: 'Dawnhold', version: '0.1.0' }],
  process: { startedMs: Date.UTC(2026, 5, 1), memoryBytes: 120_000_000 },
  storage: { kind: 'embedded', bytes: 48_000_000, freeBytes: 9_000_000_000, oldestMs: Date.UTC(2026, 4, 1), documents: 1200 },
};
