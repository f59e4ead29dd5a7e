import { chances, isHeating, outlookText } from '../../../../shared/help-text.ts';
import type { TonightAdvice } from '../../../../shared/schema/advice.ts';
import type { EpochMs } from '../../../../shared/units.ts';
import { spanText } from './age.ts';
import { degreesText, energyText, percentText, pointsText } from './quantity.ts';
import type { Setting } from './verdict.ts';
import { clockTime, dayWord } from './zone.ts';

const HOUR_MS = 3_600_000;

/** One thing that can be said or done, with what it is about. */
export interface AdviceLine {
  readonly about: string;
  readonly text: string;
}

/** What the words of an advice depend on beside it. `nightEndMs` is the end of the night that the projection speaks of. */
export interface AdviceSetting extends Setting {
  readonly nightEndMs: EpochMs;
  readonly hasMinisplit: boolean;
}

export { isHeating, outlookText };

/** What the answer says, a line a matter; what cannot be given is left out, or said to be not known yet where it will be known. */
export function adviceLines(advice: TonightAdvice, setting: AdviceSetting): AdviceLine[] {
  const lines = [
    { about: 'Setpoint', text: setpointText(advice, setting) },
    { about: 'By hours', text: scheduleText(advice, setting) },
    { about: 'Sun to spare', text: surplusText(advice, setting) },
    { about: 'Panels dark', text: darkText(advice) },
  ];
  return lines.filter(({ text }) => text !== '');
}

/** A night of the two that come, for a row of the picture. */
export interface NightRow extends Pick<TonightAdvice['base'], 'lowPoint' | 'holdsProbability'> {
  readonly label: string;
  readonly day: string;
}

/** Tonight, and the night after with a usual and with a cloudy day between; empty where the sun does not rise. */
export function nightRows({ twoNights }: TonightAdvice): NightRow[] {
  if (!twoNights) return [];
  const { first, secondUsual, secondCloudy, cloudyIndex } = twoNights;
  return [
    { label: 'Tonight', day: '', ...first },
    { label: 'The night after', day: 'a day like the past ones between', ...secondUsual },
    { label: 'The night after', day: `a cloudy day between, ${percentText(100 * cloudyIndex)} of a clear one's sun`, ...secondCloudy },
  ];
}

function setpointText({ setpoint, ladder, confidence }: TonightAdvice, { units, setpointC, hasMinisplit }: AdviceSetting): string {
  if (!hasMinisplit) return '';
  if (!setpoint) return 'Not known yet: it still learns how the mini-split answers to the weather.';
  const { rung } = setpoint;
  if (!rung) return `No setpoint holds the floor all night as surely as you want: ${chances(confidence)}.`;
  const degrees = degreesText(rung.setpointC, units);
  const most = `the ${isHeating(ladder) ? 'warmest' : 'coolest'} that holds the floor all night: ${outlookText(rung)}.`;
  if (setpointC === null) return `${degrees} is ${most}`;
  if (Math.abs(rung.setpointC - setpointC) < 0.25) return `${degrees}, set now, is ${most}`;
  const now = degreesText(setpointC, units);
  return `${degrees} is ${most} ${now}, set now, ${setpoint.nowHolds ? 'holds too.' : 'does not hold.'}`;
}

function scheduleText({ schedule }: TonightAdvice, { units, zone }: AdviceSetting): string {
  if (!schedule) return '';
  const { firstC, thenC, changeMs, effect } = schedule;
  return `${degreesText(firstC, units)} until ${clockTime(changeMs, zone)}, then ${degreesText(thenC, units)}: ${outlookText(effect)}.`;
}

function surplusText({ surplus, ladder }: TonightAdvice, { units, zone, nowMs, nightEndMs }: AdviceSetting): string {
  if (!surplus) return '';
  const { fromMs, toMs, surplusWh, usedWh, setpointC, effect } = surplus;
  const which = effect.lowPoint.tMs - nightEndMs < 12 * HOUR_MS ? 'tonight' : 'in the night after';
  const when = `Between ${clockTime(fromMs, zone)} and ${clockTime(toMs, zone)} ${dayWord(fromMs, nowMs, zone)}`;
  const deed = `${isHeating(ladder) ? 'Heating' : 'Cooling'} the cabin to ${degreesText(setpointC, units)} with ${energyText(usedWh)} of it`;
  const saves = `lifts the low point ${which} by ${pointsText(effect.gainPct)}, to ${percentText(effect.lowPoint.p50Pct)}`;
  return `${when} about ${energyText(surplusWh)} of sun would go unused. ${deed} ${saves}.`;
}

function darkText({ darkPanels: { hoursP10, hoursP50, pastTakeoverH, horizonH } }: TonightAdvice): string {
  // Beyond an hour, half hours are as fine as it is known.
  const span = (hours: number) => spanText((hours < 1 ? hours : Math.round(hours * 2) / 2) * HOUR_MS);
  if (hoursP50 === null) return `If the panels gave nothing from now on, the bank would stay above its floor for more than ${span(horizonH)}.`;
  if (hoursP50 === 0) return 'The bank is at its floor already: there is nothing to spare should the panels give nothing.';
  const early = hoursP10 === null || hoursP10 >= hoursP50 ? '' : `, one time in ten after ${span(hoursP10)}`;
  const lead = pastTakeoverH === null ? '' : ` That is ${span(Math.abs(pastTakeoverH))} ${pastTakeoverH < 0 ? 'before' : 'after'} the panels would take over.`;
  return `If the panels gave nothing from now on, the bank would reach its floor after about ${span(hoursP50)}${early}.${lead}`;
}
