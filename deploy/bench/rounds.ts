import type { Figure } from '../bars/bar.ts';
import { type Feed, type Taken, takeBare, takeWhole } from './subject.ts';

/** Each is run so often, in turn with the other, and the middle one counts: the machine may have other work. */
const ROUNDS = 3;

const middle = (runs: readonly Taken[]): number => runs.map(({ perSecond }) => perSecond).sort((a, b) => a - b)[Math.floor(runs.length / 2)] ?? Number.NaN;

export interface Rounds {
  readonly name: string;
  readonly count: number;
  /** The least that the whole program must reach of the bare one's rate. */
  readonly bar: number;
  bare(): Feed | Promise<Feed>;
  whole(): Feed | Promise<Feed>;
}

/** Takes the same messages by turns with the whole program and with a handler that only counts: the ratio of the rates, and what was lost. */
export async function rounds({ name, count, bar, bare, whole }: Rounds): Promise<Figure[]> {
  const bareRuns: Taken[] = [];
  const wholeRuns: Taken[] = [];
  for (let round = 0; round < ROUNDS; round += 1) {
    bareRuns.push(await takeBare(await bare(), count));
    wholeRuns.push(await takeWhole(await whole(), count));
  }
  const ratio = middle(wholeRuns) / middle(bareRuns);
  const lost = wholeRuns.reduce((sum, { kept }) => sum + count - (kept ?? 0), 0);
  return [
    { name: `${name}: committed to only counted, at ${Math.round(middle(wholeRuns))} messages/s`, figure: ratio, unit: '', bar, sense: 'least' },
    { name: `${name}: messages lost of ${ROUNDS * count}`, figure: lost, unit: '', bar: 0, sense: 'most' },
  ];
}
