import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { refit } from '../../engine/refit.ts';
import { initialState, restoreState } from '../../engine/state.ts';
import { STEP_MS } from '../../engine/types.ts';
import { BankView } from '../../shared/schema/flows.ts';
import { NightRow } from '../../shared/schema/projection.ts';
import { contextOf, pastOf } from '../helpers/engine-bins.ts';
import { HOUR_MS, NOON_MS, readingOf, rigOf, stepWith } from '../helpers/engine-rig.ts';

const rig = rigOf({ place: { latitudeDeg: 0, longitudeDeg: 0 } });

describe('what comes in', () => {
  const state = initialState(rig, NOON_MS);

  it('before any bank reading there is no state of charge, no projection is asked for, and the outcome is unknown', () => {
    const seen = stepWith(state, NOON_MS, { 'panels.power': 500 }, rig);
    expect(BankView.parse(seen.bank)).toMatchObject({ socPct: null, anchoredMs: null });
    expect(seen.jobs.map((job) => job.kind)).toEqual(['refit']);
    expect(seen.watched.belowFloorProbability).toBeNull();
  });

  it('a reading that is suspect, bad or older than the newest does not enter', () => {
    const first = stepWith(state, NOON_MS, { 'cabin.temperature': 24 }, rig).state;
    const readings = [
      readingOf('cabin.temperature', NOON_MS + 1000, 85, 'suspect'),
      readingOf('cabin.temperature', NOON_MS + 2000, -127, 'bad'),
      readingOf('cabin.temperature', NOON_MS - 60_000, 19),
    ];
    expect(stepWith(first, NOON_MS + STEP_MS, {}, rig, { readings }).state.latest['cabin.temperature']).toEqual({ value: 24, tMs: NOON_MS });
  });

  it('a plan stays in force until another one comes', () => {
    const plan = { loads: [{ name: 'oven', startMs: NOON_MS, endMs: NOON_MS + HOUR_MS, powerW: 900 }] };
    const planned = stepWith(state, NOON_MS, {}, rig, { plan }).state;
    expect(stepWith(planned, NOON_MS + STEP_MS, {}, rig).state.plan).toEqual(plan);
  });

  it('H05: a new place moves the sun at once; a wandering fix does not', () => {
    const here = stepWith(state, NOON_MS, { 'place.lat': 0, 'place.lon': 0.001 }, rig).state;
    const wandered = stepWith(here, NOON_MS + STEP_MS, { 'place.lat': 0.002, 'place.lon': 0 }, rig).state;
    expect(wandered.place).toEqual(here.place);
    const moved = stepWith(wandered, NOON_MS + 2 * STEP_MS, { 'place.lat': 0, 'place.lon': 15 }, rig).state;
    if (moved.sun.events.kind !== 'events' || here.sun.events.kind !== 'events') throw new Error('no sun');
    expect(Math.abs(here.sun.events.nextSunsetMs - moved.sun.events.nextSunsetMs - HOUR_MS)).toBeLessThan(60_000);
    expect(moved.horizonSinceMs).toBe(NOON_MS + 2 * STEP_MS);
  });

  it('H10, H11: a move takes the gain of the panels along and leaves lean, horizon and shade; the haze stays within the same weather', () => {
    const past = pastOf(rig, NOON_MS, { days: 6 });
    const result = { kind: 'refit' as const, id: 'refit', learned: refit(past, NOON_MS, contextOf(rig)) };
    const leaning = { ...result.learned, panels: result.learned.panels ? { ...result.learned.panels, horizon: [12] } : null };
    const before = stepWith(state, NOON_MS, { 'place.lat': 0, 'place.lon': 0 }, rig, { results: [{ ...result, learned: leaning }] }).state;
    const movedTo = (lon: number) => stepWith(before, NOON_MS + STEP_MS, { 'place.lat': 0, 'place.lon': lon }, rig).state.learned;
    const here = before.learned?.panels?.fit;
    if (!here) throw new Error('no panels learned');
    expect(movedTo(0.1)?.panels).toMatchObject({ horizon: [], fit: { gain: here.gain, turbidity: here.turbidity, lean: [0, 0] } });
    expect(movedTo(5)?.panels).toMatchObject({ horizon: [], fit: { gain: here.gain, turbidity: 3 } });
    expect(movedTo(0.1)).toMatchObject({ judgement: null, traces: { panelIndex: [] } });
  });

  it('the clear sky of a step is the one that was learned, at the temperature outside', () => {
    const learned = refit(pastOf(rig, NOON_MS, { days: 6 }), NOON_MS, contextOf(rig));
    const clearW = (turbidity: number, outsideC: number): number => {
      const hazy = { ...learned, panels: learned.panels ? { ...learned.panels, fit: { ...learned.panels.fit, turbidity } } : null };
      return (
        stepWith(state, NOON_MS, { 'outside.temperature': outsideC }, rig, { results: [{ kind: 'refit', id: 'refit', learned: hazy }] }).state.sky.clearW ?? 0
      );
    };
    expect(clearW(5, 20)).toBeLessThan(0.97 * clearW(3, 20));
    // Twenty kelvins at some 0.4 % of what is left at hot cells.
    expect(clearW(3, 40) / clearW(3, 20)).toBeCloseTo(0.92, 1);
    expect(clearW(3, 40)).toBeLessThan(0.95 * clearW(3, 20));
  });

  it('H07: a drive over the date line is a drive, not a trip around the world', () => {
    const far = rigOf({ place: { latitudeDeg: -17, longitudeDeg: 179.95 } });
    const before = stepWith(initialState(far, NOON_MS), NOON_MS, { 'place.lat': -17, 'place.lon': 179.95 }, far).state;
    const over = stepWith(before, NOON_MS + STEP_MS, { 'place.lat': -17, 'place.lon': -179.95 }, far).state;
    expect(over.place).toEqual({ latitudeDeg: -17, longitudeDeg: -179.95 });
    expect(over.weatherSinceMs).toBe(before.weatherSinceMs);
    expect(over.horizonSinceMs).toBe(NOON_MS + STEP_MS);
  });

  it('H10: a drive told in small moves ends in other weather, as one great move does', () => {
    let driven = state;
    const moved: number[] = [];
    for (let i = 0; i <= 200; i++) {
      const next = stepWith(driven, NOON_MS + i * STEP_MS, { 'place.lat': 0, 'place.lon': 0.005 * i }, rig).state;
      if (next.weatherSinceMs !== driven.weatherSinceMs) moved.push(0.005 * i);
      driven = next;
    }
    expect(moved).toHaveLength(3);
    expect(Math.max(...moved)).toBeGreaterThan(0.9);
    expect(driven.weatherSinceMs).toBeGreaterThan(NOON_MS);
    const parked = stepWith(driven, NOON_MS + 201 * STEP_MS, { 'place.lat': 0.05, 'place.lon': 1 }, rig).state;
    expect(parked.weatherSinceMs).toBe(driven.weatherSinceMs);
  });

  it('H10: a forecast of the place left behind does not speak of the new one', () => {
    const forecast = { issuedMs: NOON_MS, points: [{ tMs: NOON_MS + HOUR_MS, airTempC: 31 }] };
    const here = stepWith(state, NOON_MS, { 'place.lat': 0, 'place.lon': 0 }, rig, { forecasts: [forecast] }).state;
    const forecastsAt = (lon: number) => stepWith(here, NOON_MS + STEP_MS, { 'place.lat': 0, 'place.lon': lon }, rig).state.forecasts;
    expect(forecastsAt(0.1)).toEqual([forecast]);
    expect(forecastsAt(3)).toEqual([]);
  });

  it('H10: how well forecasts did at the place left behind says nothing of the new one, and what belongs to the rig goes along', () => {
    const learned = {
      ...refit(pastOf(rig, NOON_MS, { days: 6 }), NOON_MS, contextOf(rig)),
      outside: { sd: 0.7, correlationH: 7, forecastWeight: 1, forecastBiasC: 3 },
    };
    const here = stepWith(state, NOON_MS, { 'place.lat': 0, 'place.lon': 0 }, rig, { results: [{ kind: 'refit', id: 'refit', learned }] }).state;
    const learnedAt = (lon: number) => stepWith(here, NOON_MS + STEP_MS, { 'place.lat': 0, 'place.lon': lon }, rig).state.learned;
    expect(learnedAt(0.1)?.outside).toEqual(learned.outside);
    expect(learnedAt(3)?.outside).toMatchObject({ forecastBiasC: 0 });
    expect(learnedAt(3)?.outside.sd).toBeGreaterThan(2);
    expect(learnedAt(3)?.minisplit).toEqual(learned.minisplit);
  });

  it('an unknown place still counts charge and still asks for a projection, with its doubt', () => {
    const lost = rigOf({ place: null });
    let seen = stepWith(initialState(lost, NOON_MS), NOON_MS - STEP_MS, { 'bank.voltage': 26.4, 'bank.current': -5 }, lost);
    seen = stepWith(seen.state, NOON_MS, { 'bank.voltage': 26.4, 'bank.current': -5 }, lost);
    const job = seen.jobs.find((j) => j.kind === 'project');
    if (job?.kind !== 'project') throw new Error('no projection asked for');
    expect(job.snapshot.sun).toEqual({ kind: 'unknown-place' });
    expect(job.snapshot.doubts).toContain('the place is not known, so the sun is not either');
    expect(seen.bank.socPct).not.toBeNull();
  });
});

describe('whatever the sensors say', () => {
  const signals = [
    'bank.voltage',
    'bank.current',
    'bank.stateOfCharge',
    'panels.power',
    'minisplit.power',
    'outside.temperature',
    'cabin.temperature',
    'cabin.humidity',
    'place.lat',
    'place.lon',
  ];
  const ranges: Readonly<Record<string, readonly [number, number]>> = {
    'bank.voltage': [0, 60],
    'bank.current': [-2000, 2000],
    'bank.stateOfCharge': [0, 100],
    'panels.power': [-100, 50_000],
    'minisplit.power': [-50, 10_000],
    'outside.temperature': [-60, 70],
    'cabin.temperature': [-40, 80],
    'cabin.humidity': [0, 100],
    'place.lat': [-90, 90],
    'place.lon': [-540, 540],
  };
  const reading = fc.record({
    signal: fc.constantFrom(...signals),
    share: fc.double({ min: 0, max: 1, noNaN: true }),
    gapS: fc.constantFrom(0, 1, 10, 10, 10, 60, 600, 7200),
  });

  it('S16: the state of charge shown lies within 0 and 100, its doubt is a number, and the state can be written down', () => {
    fc.assert(
      fc.property(fc.array(reading, { minLength: 5, maxLength: 60 }), (list) => {
        let state = initialState(rig, NOON_MS);
        let tMs = NOON_MS;
        for (const { signal, share, gapS } of list) {
          tMs += gapS * 1000;
          const [low, high] = ranges[signal] as readonly [number, number];
          const stepMs = Math.ceil(tMs / STEP_MS) * STEP_MS;
          const seen = stepWith(state, stepMs, {}, rig, { readings: [readingOf(signal, tMs, low + share * (high - low))] });
          const bank = BankView.parse(seen.bank);
          expect(Number.isFinite(bank.socSigmaPct)).toBe(true);
          for (const row of seen.nights) NightRow.parse(row);
          state = seen.state;
        }
        expect(restoreState(JSON.stringify(state))).toEqual(state);
      }),
      { numRuns: 30 },
    );
  });
});
