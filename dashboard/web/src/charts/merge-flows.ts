import type { Balance, FlowItem } from './balance-items.ts';

/** Flows that a person asks for by name; they never go into a sum. */
const ALONE: ReadonlySet<string> = new Set(['panels', 'unused', 'bank', 'minisplit', 'rest']);

/** Both sides with at most `most` flows each, as far as that goes: the smallest go into one, "4 others", and so do those that are missing when that is not enough. */
export function mergeSmallest(balance: Balance, most: number): Balance {
  return { left: merged(balance.left, most, 'charger'), right: merged(balance.right, most, 'standing') };
}

function merged(side: readonly FlowItem[], most: number, tone: FlowItem['tone']): readonly FlowItem[] {
  const known = side.filter((flow) => !ALONE.has(flow.key) && flow.powerW !== null).sort((a, b) => (a.powerW ?? 0) - (b.powerW ?? 0));
  const missing = side.filter((flow) => !ALONE.has(flow.key) && flow.powerW === null);
  const small = fitting(known, side.length - most);
  const gone = fitting(missing, side.length - Math.max(0, small.length - 1) - most);
  if (small.length + gone.length === 0) return side;
  const sum = small.reduce((total, flow) => total + (flow.powerW ?? 0), 0);
  const reasons = new Set(gone.map((flow) => flow.reason));
  const out = new Set([...small, ...gone]);
  const kept = side.filter((flow) => !out.has(flow));
  return [
    ...kept.filter((flow) => flow.key !== 'rest'),
    ...(small.length > 0 ? [{ key: 'others', label: `${small.length} others`, tone, powerW: sum, reason: '' }] : []),
    ...(gone.length > 0
      ? [{ key: 'others-missing', label: `${gone.length} others`, tone, powerW: null, reason: reasons.size === 1 ? [...reasons].join('') : 'no readings' }]
      : []),
    ...kept.filter((flow) => flow.key === 'rest'),
  ];
}

/** The first flows that must go into one for the side to be `tooMany` shorter; two or more, or none. */
const fitting = (flows: readonly FlowItem[], tooMany: number): readonly FlowItem[] => (tooMany > 0 && flows.length > 1 ? flows.slice(0, tooMany + 1) : []);
