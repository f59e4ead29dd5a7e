import type { LiveSnapshot } from '../../../shared/schema/live.ts';
import type { PlayedBox } from './played-box.ts';

/** Moves every value of a view on: all signals, flows through the bank both ways from watts to kilowatts, and the counts. `step` counts up from 0. */
export function swing(view: LiveSnapshot, first: LiveSnapshot, step: number, stepMs: number): void {
  view.serverMs = first.serverMs + step * stepMs;
  view.states = first.states.map((state) => ({
    ...state,
    freshness: 'fresh',
    tMs: view.serverMs,
    value: state.value === null ? null : state.value * (1 + 0.02 * Math.sin(step + state.index)),
    received: state.received + 97 * step,
  }));
  const powerW = Math.round(10 ** (1 + 2.6 * Math.abs(Math.sin(step / 40))));
  if (first.flows)
    view.flows = { ...first.flows, tMs: view.serverMs, bankW: Math.round(powerW * Math.sin(step / 7)), panelsW: powerW, standingW: Math.round(powerW / 3) };
  if (first.bank) view.bank = { ...first.bank, currentA: (powerW / 26) * Math.sin(step / 7) };
  view.health = { ...first.health, messages: first.health.messages + 97 * step, readings: first.health.readings + 97 * step, lastMessageMs: view.serverMs };
}

/** Moves all that a box plays on, again and again, until the function given back is called. */
export function keepSwinging(box: PlayedBox, everyMs: number): () => void {
  const first = { ...box.view };
  let step = 0;
  const timer = setInterval(() => {
    step += 1;
    swing(box.view, first, step, everyMs);
    box.change({ signals: first.signals.map(({ index }) => index), parts: ['flows', 'bank', 'health'] });
  }, everyMs);
  return () => clearInterval(timer);
}
