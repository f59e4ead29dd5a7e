import type { PanelLoss } from '../../shared/schema/ledger.ts';
import type { Judgement } from '../panels/judgement.ts';

/** Smaller losses are not worth a line, Wh. */
const LEAST_WH = 50;

/**
 * The losses of a day by kind, greatest first, from what the last refit judged; left out where it judged nothing of that day.
 * @param panelsWh  what the panels gave that day; what dirt took is a share of it
 */
export function panelLossesOf(judged: Judgement | null, fromMs: number, toMs: number, panelsWh: number | null): { panelLosses?: PanelLoss[] } {
  if (judged === null || judged.fromMs >= toMs || judged.toMs <= fromMs) return {};
  const byKind = new Map<PanelLoss['kind'], PanelLoss>();
  const add = ({ kind, lostWh, evidence }: PanelLoss): void => {
    const known = byKind.get(kind);
    byKind.set(kind, { kind, lostWh: lostWh + (known?.lostWh ?? 0), evidence: known?.evidence ?? evidence });
  };
  // The longest stretch of a kind speaks for all of it.
  for (const loss of [...judged.losses].sort((a, b) => b.lostWh - a.lostWh)) if (loss.fromMs >= fromMs && loss.fromMs < toMs) add(loss);
  if (judged.dirt && panelsWh !== null)
    add({ kind: 'dirt', lostWh: (panelsWh * judged.dirt.lossFrac) / (1 - judged.dirt.lossFrac), evidence: judged.dirt.evidence });
  const panelLosses = [...byKind.values()].filter((loss) => loss.lostWh >= LEAST_WH).sort((a, b) => b.lostWh - a.lostWh);
  return { panelLosses: panelLosses.map((loss) => ({ ...loss, lostWh: Math.round(loss.lostWh) })) };
}
