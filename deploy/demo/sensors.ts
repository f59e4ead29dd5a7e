import { FAULT_RATES, faultsOf } from './faults.ts';
import { forecastJson } from './forecast.ts';
import { SHUNT_GAIN, SHUNT_OFFSET_A } from './gauge.ts';
import { noiseOf } from './noise.ts';
import type { RigTruth } from './truth.ts';
import { saturationHpa, type WeatherMaker } from './weather.ts';

/** A message as a sensor board sends it. */
export interface DemoMessage {
  readonly tMs: number;
  readonly topic: string;
  readonly payload: string;
}

interface Channel {
  readonly board: string;
  readonly topic: string;
  readonly everyS: number;
  /** The payload at an instant; `fromMs`: when the channel last sent. */
  payload(truth: RigTruth, tMs: number, fromMs: number): string;
}

const POWER_ON_C = 85;
const MISSING_C = -127;
const fixed = (value: number, digits: number) => {
  const text = value.toFixed(digits);
  return Number(text) === 0 ? (0).toFixed(digits) : text;
};
const number = (value: number, digits: number) => Number(fixed(value, digits));

function channelsOf(seed: number, weather: WeatherMaker): readonly Channel[] {
  const hiss = (name: string) => {
    const noise = noiseOf(seed, `hiss-${name}`);
    return (tMs: number) => noise.gauss(Math.floor(tMs / 10_000));
  };
  const volts = hiss('v'),
    amps = hiss('a'),
    sun = hiss('panels'),
    split = hiss('split'),
    air = hiss('air'),
    damp = hiss('damp'),
    out = hiss('out');
  const outDamp = hiss('out-damp'),
    fridge = hiss('fridge'),
    unplugged = noiseOf(seed, 'unplugged'),
    cabinBoard = faultsOf(seed, 'cabin');
  const watts = (powerW: number, share: number, noise: number) => fixed(Math.max(0, powerW * (1 + share * noise)), 0);
  return [
    {
      board: 'shunt',
      topic: 'heron/shunt',
      everyS: 10,
      payload: ({ voltageV, currentA, deviceSocFrac }, tMs) =>
        JSON.stringify({
          v: number(voltageV + 0.008 * volts(tMs), 2),
          a: number(-(currentA * SHUNT_GAIN + SHUNT_OFFSET_A + 0.05 * amps(tMs)), 2),
          soc: number(deviceSocFrac * 100, 1),
        }),
    },
    {
      board: 'shunt',
      topic: 'heron/panels',
      everyS: 10,
      payload: ({ panelsW }, tMs) => JSON.stringify({ w: Number(watts(panelsW * 0.985, 0.008, sun(tMs))) }),
    },
    { board: 'split', topic: 'heron/split/watts', everyS: 10, payload: ({ minisplitW }, tMs) => watts(minisplitW * 1.01, 0.012, split(tMs)) },
    { board: 'split', topic: 'heron/split/setpoint', everyS: 300, payload: ({ setpointC }) => fixed(setpointC, 1) },
    { board: 'split', topic: 'heron/split/mode', everyS: 300, payload: ({ mode }) => mode },
    {
      board: 'cabin',
      topic: 'heron/cabin/temp',
      everyS: 30,
      payload: ({ cabinC }, tMs, fromMs) => {
        const missing = unplugged.at(Math.floor(tMs / 10_000)) < FAULT_RATES.missingPerMessage;
        const shownC = cabinBoard.rebooted(fromMs, tMs) ? POWER_ON_C : missing ? MISSING_C : cabinC + 0.3 + 0.05 * air(tMs);
        return fixed(shownC * 1.8 + 32, 1);
      },
    },
    {
      board: 'cabin',
      topic: 'heron/cabin/humidity',
      everyS: 30,
      payload: ({ cabinHumidityPct }, tMs) => fixed(Math.min(100, cabinHumidityPct + 2.4 + 0.3 * damp(tMs)), 1),
    },
    {
      board: 'outside',
      topic: 'heron/outside',
      everyS: 60,
      payload: (truth, tMs) => {
        // The chip measures the air of its sun-warmed housing: warmer, and by that drier.
        const shownC = truth.outsideC + truth.housingWarmC - 0.2;
        const humidity = truth.outsideHumidityPct * (saturationHpa(truth.outsideC) / saturationHpa(shownC)) - 1.5;
        return JSON.stringify([
          { bn: 'heron/outside/', n: 'temperature', u: 'Cel', v: number(shownC + 0.06 * out(tMs), 2) },
          { n: 'humidity', u: '%RH', v: number(Math.max(0, Math.min(100, humidity + 0.4 * outDamp(tMs))), 1) },
        ]);
      },
    },
    { board: 'stores', topic: 'heron/fridge/watts', everyS: 30, payload: ({ fridgeW }, tMs) => watts(fridgeW, 0.02, fridge(tMs)) },
    { board: 'stores', topic: 'heron/tank/level', everyS: 600, payload: (_, tMs) => fixed(96 - ((tMs / 86_400_000) % 9) * 9.5, 0) },
    { board: 'gateway', topic: 'heron/forecast', everyS: 21_600, payload: (_, tMs) => forecastJson(seed, weather, tMs) },
  ];
}

/**
 * The boards of the rig: gives the messages of one instant (a multiple of 10 s) in order of arrival, each up to a second late.
 * No topic sends more often than every `cadenceS` seconds, a multiple of 10; the forecast is never lost.
 */
export function createSensors(seed: number, weather: WeatherMaker, cadenceS: number): (truth: RigTruth, tMs: number) => readonly DemoMessage[] {
  const channels = channelsOf(seed, weather).map((channel) => ({
    ...channel,
    everyMs: Math.max(channel.everyS, cadenceS) * 1000,
    faults: faultsOf(seed, channel.board),
    loss: noiseOf(seed, `loss-${channel.topic}`),
    jitter: noiseOf(seed, `jitter-${channel.topic}`),
  }));
  return (truth, tMs) => {
    const index = Math.floor(tMs / 10_000);
    const messages: DemoMessage[] = [];
    for (const channel of channels) {
      if (tMs % channel.everyMs !== 0) continue;
      if (channel.board !== 'gateway' && (channel.loss.at(index) < FAULT_RATES.lostPerMessage || channel.faults.away(tMs))) continue;
      messages.push({
        tMs: tMs + 20 + Math.floor(950 * channel.jitter.at(index)),
        topic: channel.topic,
        payload: channel.payload(truth, tMs, tMs - channel.everyMs),
      });
    }
    return messages.sort((a, b) => a.tMs - b.tMs);
  };
}
