import type { Component } from 'svelte';
import Balance from '../views/Balance.svelte';
import { PLACES, type Place } from './place.svelte.ts';

/** Places that are fetched apart from the first page, each with what it alone needs. */
const FETCH: Readonly<Record<Exclude<Place, 'balance'>, () => Promise<{ default: Component }>>> = {
  tonight: () => import('../views/Tonight.svelte'),
  nights: () => import('../views/Nights.svelte'),
  alarms: () => import('../views/Alarms.svelte'),
  sensors: () => import('../views/Sensors.svelte'),
  rig: () => import('../views/Rig.svelte'),
  guide: () => import('../views/Guide.svelte'),
};

/** The screens by place. Those that were not opened yet are fetched while nothing else is to be done, so that they open when the box is gone. */
export class Places {
  #views = $state.raw<Partial<Record<Place, Component>>>({ balance: Balance });
  /** Places whose screen could not be fetched. */
  #failed = $state.raw<ReadonlySet<Place>>(new Set());

  /** The screen of a place; null while it has not come. */
  view(place: Place): Component | null {
    return this.#views[place] ?? null;
  }

  hasFailed(place: Place): boolean {
    return this.#failed.has(place);
  }

  async fetch(place: Place): Promise<void> {
    if (place === 'balance' || this.#views[place]) return;
    try {
      const { default: view } = await FETCH[place]();
      this.#views = { ...this.#views, [place]: view };
      this.#failed = new Set([...this.#failed].filter((other) => other !== place));
    } catch {
      this.#failed = new Set([...this.#failed, place]);
    }
  }

  /** Fetches all places that have not come, one after the other. */
  async fetchRest(): Promise<void> {
    for (const place of PLACES) await this.fetch(place);
  }
}
