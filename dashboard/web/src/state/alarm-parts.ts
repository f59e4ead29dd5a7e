/** Parts of the Alarms place in the order of need at night, with their names. */
export const PARTS = [
  ['now', 'Now'],
  ['told', 'Who is told'],
  ['rules', 'Rules'],
  ['log', 'Log'],
  ['inside', 'Someone inside'],
] as const;
export type Part = (typeof PARTS)[number][0];

/** The part that the address names; what stands now when it names none. */
export const partOf = (name: string): Part => PARTS.find(([part]) => part === name)?.[0] ?? 'now';
