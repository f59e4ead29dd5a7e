import { existsSync } from 'node:fs';
import { join } from 'node:path';
import { PROJECT_ROOT } from '../project.ts';

/** Open measured data; it lies beside the project, not in it. */
export const DATA = join(PROJECT_ROOT, '..', 'shared', 'data');
export const hasData = () => existsSync(join(DATA, 'SOURCES.md'));

/** One figure measured on open data, beside the bar that it must not exceed and what plainer ways reach. */
export interface Figure {
  readonly name: string;
  readonly figure: number;
  readonly bar: number;
  readonly unit: string;
  /** The same figure of plainer ways, in the same unit. */
  readonly baselines?: Readonly<Record<string, number>>;
}

/** The figures of one part of the engine. */
export interface Part {
  readonly name: string;
  measure(): Promise<Figure[]>;
}
