/** Parts of the Rig place, with their names. */
export const PARTS = [
  ['rig', 'The rig'],
  ['power', 'Power'],
  ['place', 'Place'],
  ['messages', 'Messages'],
  ['devices', 'Devices'],
  ['box', 'The box'],
] as const;
export type Part = (typeof PARTS)[number][0];

/** The part that the address names; the rig itself when it names none. */
export const partOf = (name: string): Part => PARTS.find(([part]) => part === name)?.[0] ?? 'rig';
