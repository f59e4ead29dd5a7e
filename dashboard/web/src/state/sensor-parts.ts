/** Parts of the Sensors place, with their names. */
export const PARTS = [
  ['signals', 'Signals'],
  ['topics', 'Topics'],
  ['boards', 'Boards'],
  ['zero', 'Zero'],
] as const;
export type Part = (typeof PARTS)[number][0];

/** The part that the address names; the signals when it names none. */
export const partOf = (name: string): Part => PARTS.find(([part]) => part === name)?.[0] ?? 'signals';
