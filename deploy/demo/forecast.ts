import { noiseOf } from './noise.ts';
import type { WeatherMaker } from './weather.ts';

const HOUR_MS = 3_600_000;
const HOURS = 48;
const round1 = (value: number) => Math.round(value * 10) / 10;

/** A weather forecast as a service would send it: hourly for two days, with a bias of its own and errors that grow with the lead. */
export function forecastJson(seed: number, weather: WeatherMaker, issuedMs: number): string {
  const issue = Math.floor(issuedMs / HOUR_MS);
  const wrong = noiseOf(seed, 'forecast'),
    path = noiseOf(seed, `forecast-${issue}`);
  const biasC = 0.5 * wrong.gauss(issue) + 0.6;
  const points = Array.from({ length: HOURS }, (_, index) => {
    const lead = index + 1,
      tMs = issuedMs + lead * HOUR_MS;
    const grown = 0.6 + 0.05 * lead;
    const cover = weather.coverFrac(tMs) + 0.35 * grown * path.smooth(lead / 5 + 500);
    return {
      tMs,
      airTempC: round1(weather.airTempC(tMs) + biasC + 1.6 * grown * path.smooth(lead / 7)),
      dewPointC: round1(weather.dewPointC(tMs) + 1.5 * grown * path.smooth(lead / 9 + 1000)),
      cloudFrac: Math.round(100 * Math.min(1, Math.max(0, cover))) / 100,
    };
  });
  return JSON.stringify({ issuedMs, points });
}
