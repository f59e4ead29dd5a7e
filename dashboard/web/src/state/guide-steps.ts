import type { SectionSpec } from './setting-sections.ts';

/** A step of the guide; each saves the sections that it asks for. */
export interface Step {
  readonly part: string;
  readonly title: string;
  readonly says: string;
  readonly saves: readonly SectionSpec['what'][];
}

export const STEPS: readonly Step[] = [
  { part: '1', title: 'The rig', says: 'How it is called, and where it stands: that is where the sun comes from.', saves: ['rig', 'place'] },
  {
    part: '2',
    title: 'Bank and panels',
    says: 'As printed on them. Dawnhold learns the rest from your nights.',
    saves: ['bank', 'panels', 'inverter', 'minisplit'],
  },
  { part: '3', title: 'Messages', says: 'How what your boards measure comes in.', saves: ['broker'] },
  { part: '4', title: 'Sensors', says: 'Which message means what. Three are enough to begin.', saves: [] },
];

/** What stands when all steps are done. */
export const END = 'end';

/** Index of the step that the address names; the first when it names none, their number at the end. */
export function stepOf(part: string): number {
  if (part === END) return STEPS.length;
  return Math.max(
    0,
    STEPS.findIndex((step) => step.part === part),
  );
}

/** Address of a step by its index; of the end beyond the last. */
export const stepHref = (index: number): string => `#/guide/${STEPS[index]?.part ?? END}`;
