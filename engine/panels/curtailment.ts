import type { EpochMs } from '../../shared/units.ts';
import type { ChargerVolts } from '../bank/chemistry.ts';

/** What tells whether the charger holds the panels back. */
export interface Curtailment {
  readonly curtailed: boolean;
  /** Powers a minute ago: a load that starts shows in their change. */
  readonly minute: { readonly tMs: EpochMs; readonly panelsW: number; readonly bankW: number } | null;
  /** How often in a row the panels, and not the bank, took over a change of the loads. */
  readonly followed: number;
}

export const notCurtailed: Curtailment = { curtailed: false, minute: null, followed: 0 };

/** One moment of daylight. */
export interface CurtailmentWitness {
  readonly tMs: EpochMs;
  readonly panelsW: number;
  /** Positive: charging; null where it is not known. */
  readonly bankW: number | null;
  readonly cellV: number | null;
  readonly charger: ChargerVolts;
  /** What the panels could give by the sky as last seen, W. */
  readonly couldW: number;
}

const MINUTE_MS = 60_000;
/** A change of the loads over this is told from noise, W and share of what the panels could give. */
const STEP_W = 100;
const STEP_SHARE = 0.08;
/** The panels took it over with this share of it; with less than the second the bank did. */
const FOLLOWS = 0.7;
const STAYS = 0.3;
const FOLLOWED_TIMES = 2;
/** The panels give clearly less than they could. */
const HEADROOM = 0.85;
/** The bank neither gives nor takes, share of what the panels could give. */
const IDLE_SHARE = 0.05;

/**
 * One step. Held back: the voltage stands at the charger's limit; or it did, the charger fell back to its float and the bank rests; or the
 * panels jump when a load starts, again and again, although they gave less than they could. A bank that gives power holds nothing back.
 */
export function stepCurtailment(state: Curtailment, w: CurtailmentWitness): Curtailment {
  const { minute, followed } = followedLoads(state, w);
  const idleW = IDLE_SHARE * w.couldW;
  const giving = w.bankW !== null && w.bankW < -idleW;
  const spare = w.panelsW < HEADROOM * w.couldW;
  const atLimit = w.cellV !== null && w.cellV >= w.charger.limitV;
  const floating = state.curtailed && spare && w.bankW !== null && Math.abs(w.bankW) <= idleW && w.cellV !== null && w.cellV >= w.charger.floatV;
  const following = spare && followed >= FOLLOWED_TIMES;
  return { curtailed: atLimit || (!giving && (floating || following)), minute, followed };
}

/** Compares the powers with those a minute ago. Cloud moves panels and bank alike and tells nothing. */
function followedLoads({ minute, followed }: Curtailment, { tMs, panelsW, bankW, couldW }: CurtailmentWitness): Pick<Curtailment, 'minute' | 'followed'> {
  if (bankW === null) return { minute: null, followed: 0 };
  const now = { tMs, panelsW, bankW };
  if (minute === null || tMs - minute.tMs > 2 * MINUTE_MS) return { minute: now, followed: minute === null ? followed : 0 };
  if (tMs - minute.tMs < MINUTE_MS) return { minute, followed };
  const panelsRoseW = panelsW - minute.panelsW;
  const loadsRoseW = panelsRoseW - (bankW - minute.bankW);
  if (Math.abs(loadsRoseW) < Math.max(STEP_W, STEP_SHARE * couldW)) return { minute: now, followed };
  const share = panelsRoseW / loadsRoseW;
  return { minute: now, followed: share > FOLLOWS && share < 1 / FOLLOWS ? followed + 1 : share < STAYS ? 0 : followed };
}
