import type { Breakdown } from '../../../../shared/schema/advice.ts';

/** What takes energy this night. */
export type EnergyGroup = 'minisplit' | 'standing' | 'planned' | 'inverter';

/** A group with its part of all that is drawn, 0 to 1. */
export interface EnergyShare {
  readonly group: EnergyGroup;
  readonly label: string;
  readonly energyWh: number;
  readonly share: number;
}

const ORDER: readonly EnergyGroup[] = ['minisplit', 'standing', 'planned', 'inverter'];
const LABELS: Readonly<Record<EnergyGroup, string>> = {
  minisplit: 'Mini-split',
  standing: 'Standing loads',
  planned: 'Planned loads',
  inverter: "Inverter's own draw",
};

/**
 * The groups that take something, in a fixed order; empty when nothing is drawn.
 * @param isMinisplitKnown  false: what the standing loads take has the mini-split in it
 */
export function energyShares(energyWh: Breakdown['energyWh'], isMinisplitKnown: boolean): EnergyShare[] {
  const groups = ORDER.filter((group) => Math.round(energyWh[group]) > 0);
  const sumWh = groups.reduce((sum, group) => sum + energyWh[group], 0);
  const label = (group: EnergyGroup) => (group === 'standing' && !isMinisplitKnown ? 'All loads with the mini-split' : LABELS[group]);
  return groups.map((group) => ({ group, label: label(group), energyWh: energyWh[group], share: energyWh[group] / sumWh }));
}

const SOURCES: Readonly<Record<Breakdown['doubt'][number]['source'], string>> = {
  outside: 'outdoor temperature',
  minisplit: 'how hard the mini-split works',
  standing: 'what else is switched on',
  soc: 'state of charge now',
  sun: 'sun',
};

/** What the doubt comes from, the largest first: "sun 41 %, state of charge now 20 %". '' when there is none; parts under one in twenty are left out. */
export const doubtText = (doubt: Breakdown['doubt']): string =>
  doubt
    .filter(({ share }) => share >= 0.05)
    .map(({ source, share }) => `${SOURCES[source]} ${Math.round(100 * share)}\u00a0%`)
    .join(', ');
