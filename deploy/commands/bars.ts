import type { Command } from 'commander';
import { addMeasuring } from './measure.ts';

/** Adds `bars`: measures on this machine what Dawnhold promises, and says whether it holds. */
export function addBars(program: Command): void {
  addMeasuring(program, { name: 'bars', description: 'measure what must hold on this machine', load: async () => (await import('../bars/all.ts')).BARS });
}
