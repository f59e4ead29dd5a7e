import { type Balance, balanceItems, type FlowItem } from '../charts/balance-items.ts';
import { spanText } from '../format/age.ts';
import type { Shown } from '../format/freshness.ts';
import { energyText, percentText, pointsText, powerText } from '../format/quantity.ts';
import type { App } from './app.svelte.ts';

/** Flows older than this (rig time over pace, ms) say their age. */
const FRESH_MS = 30_000;

/** Standard deviations either side that hold eight times in ten, as the range of the curve does. */
const EIGHT_IN_TEN = 1.28;

/** A flow in the table beside the picture. */
export interface FlowRow {
  readonly key: string;
  readonly label: string;
  readonly side: string;
  readonly text: string;
}

/** The balance of flows as it is shown. */
export class FlowView {
  readonly #app: App;

  constructor(app: App) {
    this.#app = app;
  }

  readonly balance = $derived.by<Balance | null>(() => {
    const { live } = this.#app;
    if (!live.flows || !live.rig) return null;
    return balanceItems(live.flows, {
      hasMinisplit: live.rig.hasMinisplit,
      hasInverter: live.rig.hasInverter,
      hasSensor: (signal) => live.signal(signal) !== undefined,
      reasonOf: (signal) => live.reasonOf(signal),
    });
  });

  /** '' while the flows are fresh. */
  readonly old = $derived.by(() => {
    const { live } = this.#app;
    if (!live.flows) return '';
    const ageMs = live.nowMs - live.flows.tMs;
    return live.live && ageMs < FRESH_MS * Math.max(1, live.contact.pace) ? '' : `${spanText(ageMs)} old`;
  });

  /** The line under the balance: the bank's own figures and what the sun gives in vain. */
  readonly foot = $derived.by(() => {
    const { live } = this.#app;
    const { bank } = live;
    if (!bank) return '';
    const parts = [
      measuredText('voltage', live.shown('bank.voltage'), (volts) => `${volts.toFixed(1)} V`),
      measuredText('current', live.shown('bank.current'), currentText),
    ];
    if (bank.voltageV !== null && bank.socPct !== null) parts.push(`${energyText((bank.capacityAh * bank.voltageV * bank.socPct) / 100)} in the bank`);
    return parts.join(' · ');
  });

  /** How far the state of charge can be trusted: its doubt, and when it was last known for sure. */
  readonly trust = $derived.by(() => {
    const { bank, nowMs } = this.#app.live;
    if (!bank || bank.socPct === null) return '';
    const anchor = bank.anchoredMs === null ? 'no full charge seen yet' : `full ${spanText(nowMs - bank.anchoredMs)} ago`;
    return `${percentText(bank.socPct)} within ${pointsText(Math.max(0.1, EIGHT_IN_TEN * bank.socSigmaPct))}, eight times in ten · ${anchor}`;
  });

  /** Each flow for the table: all of them, also those that the picture shows as one. */
  readonly rows = $derived.by<readonly FlowRow[]>(() => {
    const { balance } = this;
    if (!balance) return [];
    const row = (side: string) => (flow: FlowItem) => ({ key: flow.key, label: flow.label, side: flow.isUnused ? 'not taken' : side, text: flowText(flow) });
    return [...balance.left.map(row('comes in')), ...balance.right.map(row('goes out'))];
  });

  /** The balance in words, for those who can't see it. */
  readonly words = $derived.by(() => {
    const side = (items: Balance['left']) => items.map((flow) => `${flow.label} ${flowText(flow)}`).join('; ');
    return this.balance ? `In: ${side(this.balance.left)}. Out: ${side(this.balance.right)}.` : '';
  });
}

const flowText = ({ powerW, reason }: FlowItem): string => (powerW === null ? `missing, ${reason}` : powerText(powerW));

/** A measured value in words with its age once it is no longer fresh; without one, why there is none. */
function measuredText(what: string, shown: Shown | null, text: (value: number) => string): string {
  if (shown === null || shown.value === null) return `${what} –${shown?.missing ? `, ${shown.missing}` : ''}`;
  return `${text(shown.value)}${shown.old ? ` (${shown.old})` : ''}`;
}

function currentText(currentA: number): string {
  return Math.abs(currentA) < 0.05 ? 'no current' : `${Math.abs(currentA).toFixed(1)} A ${currentA > 0 ? 'into' : 'out of'} the bank`;
}
