import { expect, it } from 'vitest';
import { bankAt, initialBank, seeCurrent, seeVoltage, stepBank } from '../../../engine/bank/bank.ts';
import { seededRandom } from '../../../engine/numeric/random.ts';
import { terminalV } from '../../helpers/engine-bank.ts';
import { NOON_MS, rigOf } from '../../helpers/engine-rig.ts';

const RIGS = 30;
const DAYS = 4;
const MINUTE_MS = 60_000;
const rig = rigOf({
  everyS: new Map([
    ['bank.voltage', 60],
    ['bank.current', 60],
  ]),
});

/** Error over sigma at every hour after the first full charge of a rig whose shunt and capacity are off by chance. */
function scoresOf(seed: number): number[] {
  const random = seededRandom(seed);
  const scale = 1 + 0.012 * random.normal();
  const offsetA = 0.0004 * rig.capacityAh * random.normal();
  const depth = 0.2 + 0.5 * random.uniform();
  const scores: number[] = [];
  let bank = initialBank;
  let soc = 0.7;
  let charging = true;
  let busyA = 0;
  for (let minute = 0; minute < DAYS * 1440; minute++) {
    const tMs = NOON_MS + minute * MINUTE_MS;
    const hour = (12 + minute / 60) % 24;
    if (hour === 9) charging = true;
    if (hour === 18) charging = false;
    if (minute % 15 === 0) busyA = 2 + 16 * random.uniform();
    const wantedA = charging ? 45 : soc > 1 - depth ? -busyA * 2 * depth : -1;
    // The limit of the charger: the current dies away with what is missing.
    const currentA = charging ? Math.min(wantedA, Math.max(0, 5 * (1 - soc) * rig.capacityAh)) : wantedA;
    const isAtLimit = charging && currentA < wantedA;
    soc = Math.min(1, soc + (currentA / 60 / rig.capacityAh) * scale);
    const voltageV = isAtLimit ? rig.cells * 3.5 : terminalV(rig, soc, currentA);
    bank = seeVoltage(bank, tMs, voltageV + 0.01 * random.normal());
    bank = stepBank(seeCurrent(bank, tMs, currentA - offsetA + 0.1 * random.normal(), rig, 180_000, null), tMs, rig);
    const believed = bankAt(bank, tMs, rig, null);
    if (minute % 60 === 0 && bank.anchoredMs !== null && believed) scores.push((believed.socFrac - soc) / believed.sd);
  }
  return scores;
}

it('the doubt about the charge is honest: over rigs off by chance about two thirds of the errors lie within it, nearly all within twice', () => {
  const rigs = Array.from({ length: RIGS }, (_, i) => scoresOf(i + 1));
  expect(rigs.every((scores) => scores.length > 24)).toBe(true);
  const all = rigs.flat();
  const within = (sigmas: number): number => all.filter((z) => Math.abs(z) <= sigmas).length / all.length;
  expect(within(1)).toBeGreaterThan(0.6);
  expect(within(1)).toBeLessThan(0.92);
  expect(within(2)).toBeGreaterThan(0.93);
});
