import type { Flows } from '../../../../shared/schema/flows.ts';

export type FlowTone = 'sun' | 'bank' | 'charger' | 'minisplit' | 'standing' | 'inverter' | 'rest';

/** One flow beside the bus; `powerW` is never negative, null when it is missing, and then `reason` says why. */
export interface FlowItem {
  readonly key: string;
  readonly label: string;
  readonly tone: FlowTone;
  readonly powerW: number | null;
  readonly reason: string;
  /** It could have come and did not: it stands beside the flows and counts to no sum. */
  readonly isUnused?: boolean;
}

/** What comes in on the left, where it goes on the right. The powers of both sides add up to the same. */
export interface Balance {
  readonly left: readonly FlowItem[];
  readonly right: readonly FlowItem[];
}

/** What the balance must know beside the flows; `hasSensor` tells whether the rig file maps a signal, `reasonOf` says in a few words why a signal gives nothing. */
export interface BalanceContext {
  readonly hasMinisplit: boolean;
  readonly hasInverter: boolean;
  readonly hasSensor: (signal: string) => boolean;
  readonly reasonOf: (signal: string) => string;
}

/** Under this the rest is rounding, W. */
const REST_W = 0.5;
/** Under this nothing flows, W. */
const NOTHING_W = 0.05;
/** Under this the estimate of what the panels could have given is noise, W. */
const UNUSED_W = 20;
/** Measured loads with a ribbon of their own; the smaller ones stay in the standing load. */
const SHOWN_LOADS = 3;

/** Longer names would run into the other side. */
const NAME_CHARS = 16;

function title(name: string): string {
  const words = name.charAt(0).toUpperCase() + name.slice(1).replaceAll('-', ' ');
  return words.length > NAME_CHARS ? `${words.slice(0, NAME_CHARS - 1)}…` : words;
}

interface Signed {
  readonly key: string;
  readonly label: string;
  readonly tone: FlowTone;
  readonly inW: number | null;
  readonly side: 'left' | 'right';
  readonly reason: string;
}

/** Sorts the flows to the two sides of the bus by their sign: a charging bank stands right, a panel that draws too. What does not add up becomes an item of its own. */
export function balanceItems(flows: Flows, context: BalanceContext): Balance {
  const signed = signedFlows(flows, context).map((flow) => (flow.inW !== null && Math.abs(flow.inW) < NOTHING_W ? { ...flow, inW: 0 } : flow));
  const inW = signed.reduce((sum, flow) => sum + (flow.inW ?? 0), 0);
  const unknown = flows.unaccountedW === null || signed.some((flow) => flow.inW === null);
  const rest: Signed[] =
    Math.abs(inW) < REST_W
      ? []
      : [
          {
            key: 'rest',
            label: unknown ? 'Not measured' : 'Unaccounted',
            tone: 'rest',
            inW: -inW,
            side: 'right',
            reason: '',
          },
        ];
  const all = [...signed, ...rest];
  const left = all.filter((f) => sideOf(f) === 'left').map(item);
  const at = left.findIndex((f) => f.key === 'panels') + 1;
  return { left: [...left.slice(0, at), ...unused(flows), ...left.slice(at)], right: all.filter((f) => sideOf(f) === 'right').map(item) };
}

/** What the panels could have given besides, estimated. */
function unused({ surplusW }: Flows): FlowItem[] {
  if (surplusW === null || surplusW < UNUSED_W) return [];
  return [{ key: 'unused', label: 'Unused, about', tone: 'sun', powerW: surplusW, reason: '', isUnused: true }];
}

function signedFlows(flows: Flows, context: BalanceContext): Signed[] {
  const out = (w: number | null) => (w === null ? null : -w);
  const shownLoads = flows.standingW === null ? flows.loads : largest(flows.loads);
  const ownW = shownLoads.reduce((sum, load) => sum + (load.powerW ?? 0), 0);
  const otherW = flows.standingW === null ? null : -(flows.standingW - ownW);
  // A rig without panels is reckoned with none; nothing measures them, so no zero is drawn.
  const hasPanels = flows.panelsW !== 0 || context.hasSensor('panels.power') || context.hasSensor('panels.current');
  const panels: Signed = { key: 'panels', label: 'Panels', tone: 'sun', inW: flows.panelsW, side: 'left', reason: context.reasonOf('panels.power') };
  return [
    ...(hasPanels ? [panels] : []),
    ...flows.chargers.map(
      (c): Signed => ({
        key: `charge.${c.name}`,
        label: title(c.name),
        tone: 'charger',
        inW: c.powerW,
        side: 'left',
        reason: context.reasonOf(`charge.${c.name}.power`),
      }),
    ),
    { key: 'bank', label: 'Bank', tone: 'bank', inW: out(flows.bankW), side: 'left', reason: context.reasonOf('bank.current') },
    ...(context.hasMinisplit
      ? [
          {
            key: 'minisplit',
            label: 'Mini-split',
            tone: 'minisplit',
            inW: out(flows.minisplitW),
            side: 'right',
            reason: context.reasonOf('minisplit.power'),
          } as const,
        ]
      : []),
    ...shownLoads.map(
      (l): Signed => ({
        key: `load.${l.name}`,
        label: title(l.name),
        tone: 'standing',
        inW: out(l.powerW),
        side: 'right',
        reason: context.reasonOf(`load.${l.name}.power`),
      }),
    ),
    { key: 'standing', label: shownLoads.length > 0 ? 'Other loads' : 'Standing loads', tone: 'standing', inW: otherW, side: 'right', reason: 'not known now' },
    ...(context.hasInverter
      ? [{ key: 'inverter', label: 'Inverter', tone: 'inverter', inW: out(flows.inverterW), side: 'right', reason: 'not known now' } as const]
      : []),
  ];
}

/** The largest measured loads in the order of the rig file, so that two of like size do not change places. */
function largest(loads: Flows['loads']): Flows['loads'] {
  const measured = loads.filter((load) => load.powerW !== null);
  const shown = new Set([...measured].sort((a, b) => (b.powerW ?? 0) - (a.powerW ?? 0)).slice(0, SHOWN_LOADS));
  return measured.filter((load) => shown.has(load));
}

function sideOf(flow: Signed): 'left' | 'right' {
  if (flow.inW === null || flow.inW === 0) return flow.side;
  return flow.inW > 0 ? 'left' : 'right';
}

const item = (f: Signed): FlowItem => ({
  key: f.key,
  label: f.label,
  tone: f.tone,
  powerW: f.inW === null ? null : Math.abs(f.inW),
  reason: f.inW === null ? f.reason || 'no reading' : '',
});
