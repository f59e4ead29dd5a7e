/** One measured figure against what it must reach. */
export interface Figure {
  readonly name: string;
  readonly figure: number;
  readonly unit: string;
  readonly bar: number;
  /** `most`: holds at or under the bar; `least`: at or over it. */
  readonly sense: 'most' | 'least';
}

/** Something that can be measured on this machine. */
export interface Bar {
  readonly name: string;
  readonly what: string;
  /** Measures; a text says why it cannot be measured here. */
  measure(): Promise<readonly Figure[] | string>;
}

export const holds = ({ figure, bar, sense }: Figure) => (sense === 'most' ? figure <= bar : figure >= bar);
