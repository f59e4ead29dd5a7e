import { ease, noiseOf } from './noise.ts';
import { PLACE } from './place.ts';

/** The air and the clouds over the rig at an instant. */
export interface Weather {
  readonly airTempC: number;
  readonly dewPointC: number;
  /** Share of the sky under cloud, 0..1: clear under about 0.2, broken between, overcast over about 0.8. */
  readonly coverFrac: number;
  /** How much of the sun's disc is behind a cloud now, 0..1. */
  readonly shadeFrac: number;
  /** What a closed cloud deck lets through, share of the clear sky's irradiance. */
  readonly deckFrac: number;
  /** Clearness of the air itself: share of the beam that passes one air mass. */
  readonly clarityFrac: number;
}

export interface WeatherMaker {
  at(tMs: number): Weather;
  airTempC(tMs: number): number;
  coverFrac(tMs: number): number;
  dewPointC(tMs: number): number;
}

const HOUR_MS = 3_600_000;
const YEAR_MS = 365.2425 * 24 * HOUR_MS;
const WARMEST_MS = Date.UTC(2026, 6, 24);

/** Weather of dry inland hills as a function of absolute time under a seed: hot summers, mild and cloudier winters, fronts every few days. */
export function createWeather(seed: number): WeatherMaker {
  const front = noiseOf(seed, 'front'),
    spell = noiseOf(seed, 'spell'),
    gust = noiseOf(seed, 'gust'),
    deck = noiseOf(seed, 'deck');
  const cloud = noiseOf(seed, 'cloud'),
    cloudlet = noiseOf(seed, 'cloudlet'),
    haze = noiseOf(seed, 'haze'),
    damp = noiseOf(seed, 'damp');

  /** 1 in high summer, -1 in the depth of winter. */
  const season = (tMs: number) => Math.cos((2 * Math.PI * (tMs - WARMEST_MS)) / YEAR_MS);

  function coverFrac(tMs: number): number {
    const hours = tMs / HOUR_MS;
    const wetness = 0.76 * cloud.smooth(hours / 30) + 0.35 * deck.smooth(hours / 13) - 0.41 - 0.04 * season(tMs);
    return 1 / (1 + Math.exp(-6.5 * wetness));
  }

  function airTempC(tMs: number): number {
    const hours = tMs / HOUR_MS,
      warm = season(tMs),
      cover = coverFrac(tMs);
    const solarHour = (hours + PLACE.longitudeDeg / 15) % 24;
    // Coldest near six, warmest near half past three: the second harmonic steepens the morning.
    const dayWave = Math.cos(((solarHour - 15.2) * Math.PI) / 12) + 0.18 * Math.cos(((solarHour - 14) * Math.PI) / 6);
    const swing = (5.6 + 1.1 * warm) * (1 - 0.55 * cover);
    const mean = 15.8 + 8.5 * warm + 3.8 * front.smooth(hours / 97) + 2.4 * spell.smooth(hours / 260) - 1.5 * cover * warm;
    return mean + swing * dayWave + 0.5 * gust.smooth(hours / 1.3);
  }

  function dewPointC(tMs: number): number {
    const hours = tMs / HOUR_MS;
    const dew = 7.5 + 4 * season(tMs) + 3 * coverFrac(tMs) + 2.6 * damp.smooth(hours / 44) + 1.5 * front.smooth(hours / 97);
    return Math.min(dew, airTempC(tMs) - 0.4);
  }

  return {
    airTempC,
    coverFrac,
    dewPointC,
    at(tMs) {
      const cover = coverFrac(tMs),
        hours = tMs / HOUR_MS;
      // A cloudlet passes in a few minutes and its edge in about one: where the drifting field lies under the cover, the disc is hidden.
      const field = 0.5 + 0.55 * cloudlet.smooth(tMs / 200_000);
      return {
        airTempC: airTempC(tMs),
        dewPointC: dewPointC(tMs),
        coverFrac: cover,
        shadeFrac: ease(0.5 + (cover - field) / 0.3),
        deckFrac: 0.31 + 0.1 * deck.smooth(hours / 2.1),
        clarityFrac: 0.715 + 0.03 * haze.smooth(hours / 70),
      };
    },
  };
}

/** Vapour pressure of saturated air over water, hPa, by the Magnus form. @source Sonntag, D. (1990), coefficients 6.112, 17.62, 243.12 */
export function saturationHpa(tempC: number): number {
  return 6.112 * Math.exp((17.62 * tempC) / (243.12 + tempC));
}
