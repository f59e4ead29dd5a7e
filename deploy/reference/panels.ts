import { type Daylight, daylightOf, type Stop } from '../../engine/panels/daylight.ts';
import { learnPanels } from '../../engine/panels/learn-panels.ts';
import { clearSkyPanelsW } from '../../engine/panels/panel-model.ts';
import { haurwitzGlobalWm2 } from '../../engine/sun/haurwitz.ts';
import type { Figure, Part } from './figure.ts';
import { type Site, sites } from './panels/sites.ts';
import { takeovers, vectors } from './panels/vectors.ts';

const DAY_H = 24;
/** Measured power over that of the chain, of a clear ten minutes; the level is that of the day's own bright hours. */
const CLEAR_WITHIN = 0.15;
/** A day is clear when so much of it is. */
const CLEAR_DAY_SHARE = 0.75;
/** An even overcast is not clear, index. */
const LEAST_LEVEL = 0.75;
const LEAST_ELEVATION_DEG = 5;
/** Days that a refit learns from. */
const LEARN_DAYS = 21;

/** The chain from sun to panel: against reference vectors, and with what it learned against measured clear days. */
export const panels: Part = {
  name: 'panels',
  measure: async () => [...vectorFigures(), ...sites().map(clearDaysFigure)],
};

function vectorFigures(): Figure[] {
  const all = vectors();
  const off = all.map(({ got, wanted }) => Math.abs(got - wanted) / Math.max(1e-3, Math.abs(wanted)));
  const minutes = takeovers().flatMap((row) => row.minutes);
  const late = minutes.map(({ got, wanted }) => (got === null || wanted === null ? (got === wanted ? 0 : Number.POSITIVE_INFINITY) : Math.abs(got - wanted)));
  return [
    { name: `reference vectors, worst of ${all.length}`, figure: Math.max(...off), bar: 1e-3, unit: 'relative' },
    { name: `takeover of level panels, worst of ${late.length}`, figure: Math.max(...late), bar: 2, unit: 'min' },
  ];
}

/** Days of a site with their daylight. */
function daysOf(site: Site, stop: Stop): Daylight[][] {
  const days = new Map<number, Daylight[]>();
  for (const row of daylightOf(site.bins, stop)) {
    if (row.sky.elevationDeg < LEAST_ELEVATION_DEG) continue;
    const day = Math.floor((row.tMs / 3_600_000 - site.behindUtcH) / DAY_H);
    days.set(day, [...(days.get(day) ?? []), row]);
  }
  return [...days.values()];
}

/** The clear hours of a clear day, by the day's own level and never by what was learned; null on other days. */
function clearHoursOf(day: readonly Daylight[]): Daylight[] | null {
  const indexes = day.map((row) => row.panelsW / row.clearW).sort((a, b) => a - b);
  const level = indexes[Math.floor(0.7 * indexes.length)] ?? 0;
  const clear = day.filter((row) => Math.abs(row.panelsW / row.clearW / level - 1) < CLEAR_WITHIN);
  return day.length > 30 && level > LEAST_LEVEL && clear.length >= CLEAR_DAY_SHARE * day.length ? clear : null;
}

/**
 * Mean error of the learned panels over the clear hours of clear days, as a share of what they gave. Each day is judged by what the other days
 * taught; where only one was measured, its afternoon by what its morning taught.
 */
function clearDaysFigure(site: Site): Figure {
  const stop: Stop = { panels: site.panels, place: site.place, headingDeg: 0, sinceMs: 0 };
  const clear = daysOf(site, stop).flatMap((day) => clearHoursOf(day) ?? []);
  const dayOf = (tMs: number): number => Math.floor((tMs / 3_600_000 - site.behindUtcH) / DAY_H);
  const days = [...new Set(clear.map((row) => dayOf(row.tMs)))];
  const alone = days.length === 1;
  const error = { learned: 0, believed: 0, simplest: 0, gave: 0 };
  for (const day of days) {
    const tested = clear.filter((row) => dayOf(row.tMs) === day && (!alone || row.sky.azimuthDeg > 180));
    const held = new Set(tested.map((row) => row.tMs));
    const bins = site.bins.filter((bin) => (alone ? !held.has(bin.tMs) : dayOf(bin.tMs) !== day && Math.abs(dayOf(bin.tMs) - day) <= LEARN_DAYS / 2));
    const fit = learnPanels(bins, stop);
    const taught = clear.filter((row) => (alone ? !held.has(row.tMs) : dayOf(row.tMs) !== day));
    const simplest = ratioOf(taught, simplestW);
    for (const row of tested) {
      const learnedW = fit.gain * clearSkyPanelsW(site, site.place, row.tMs + 300_000, 0, { ...fit, airC: row.airC });
      error.learned += Math.abs(learnedW - row.panelsW);
      error.believed += Math.abs(0.9 * row.clearW - row.panelsW);
      error.simplest += Math.abs(simplest * simplestW(row) - row.panelsW);
      error.gave += row.panelsW;
    }
  }
  const share = (e: number): number => (100 * e) / error.gave;
  return {
    name: `${site.name}, ${days.length} clear ${alone ? 'day' : 'days'}`,
    figure: share(error.learned),
    bar: 5,
    unit: '%',
    baselines: { 'nothing learned': share(error.believed), 'simplest clear sky and a level on the clear hours': share(error.simplest) },
  };
}

const simplestW = (row: Daylight): number => haurwitzGlobalWm2(row.sky.elevationDeg);
const ratioOf = (rows: readonly Daylight[], model: (row: Daylight) => number): number =>
  rows.reduce((sum, row) => sum + row.panelsW, 0) / rows.reduce((sum, row) => sum + model(row), 0);
