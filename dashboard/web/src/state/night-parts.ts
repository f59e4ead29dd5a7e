/** Parts of the Nights place, with their names. */
export const NIGHT_PARTS = [
  ['ledger', 'Ledger'],
  ['one', 'One night'],
  ['compare', 'Compare'],
  ['month', 'Month'],
  ['days', 'Days'],
] as const;
export type NightPart = (typeof NIGHT_PARTS)[number][0];

/** The part that the address names; the ledger when it names none. */
export const nightPartOf = (name: string): NightPart => NIGHT_PARTS.find(([part]) => part === name)?.[0] ?? 'ledger';

const NIGHT_ID = /^\d{4}-\d{2}-\d{2}$/;

/** Nights that the address names, `2026-11-23` or two with a comma between them; what is none is left out. */
export const nightIdsOf = (item: string): string[] => item.split(',').filter((id) => NIGHT_ID.test(id));
