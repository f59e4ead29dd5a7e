import type { Command } from 'commander';
import { addMeasuring } from './measure.ts';

/** Adds `bench`: measures how much can be taken in and kept, mostly beside the bare library doing the same. */
export function addBench(program: Command): void {
  addMeasuring(program, {
    name: 'bench',
    description: 'measure how much this machine takes in and keeps, beside the bare libraries',
    load: async () => (await import('../bench/all.ts')).BENCHES,
  });
}
