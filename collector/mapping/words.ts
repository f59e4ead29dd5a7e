import type { Quantity } from '../../shared/units.ts';

/** Words that boards use for what they measure, and the unit that a word says. The first list that has a word counts. */
export const QUANTITY_WORDS: readonly (readonly [quantity: Quantity, unit: string, words: string])[] = [
  ['voltage', 'V', 'v u volt volts voltage vbat vbatt vbus vdc'],
  ['voltage', 'mV', 'mv millivolt millivolts'],
  ['current', 'A', 'a i amp amps ampere amperes current ibat ibatt'],
  ['current', 'mA', 'ma milliamp milliamps'],
  ['power', 'W', 'w p watt watts power pwr'],
  ['power', 'kW', 'kw kilowatt kilowatts'],
  ['stateOfCharge', '%EL', 'soc charged stateofcharge'],
  ['temperature', 'Cel', 't temp temperature tempc celsius degc c'],
  ['temperature', 'degF', 'tempf fahrenheit degf f'],
  ['humidity', '%RH', 'h hum humidity rh humid'],
  ['irradiance', 'W/m2', 'irradiance ghi radiation insolation pyranometer'],
  ['latitude', 'lat', 'lat latitude'],
  ['longitude', 'lon', 'lon lng long longitude'],
  ['heading', 'deg', 'heading hdg course bearing yaw'],
  ['mode', '', 'mode'],
];

/** Words for where something is measured, by the group of the signals there. */
export const PLACE_WORDS: readonly (readonly [group: string, words: string])[] = [
  ['bank', 'bank batt battery batteries shunt pack bms cells accu house'],
  ['panels', 'panel panels pv solar array roof sun mppt'],
  ['minisplit', 'split minisplit hvac aircon airconditioner heatpump'],
  ['cabin', 'cabin inside indoor indoors interior living room in'],
  ['outside', 'outside outdoor outdoors exterior ambient out weather'],
  ['place', 'gps gnss place position location'],
];
export const CHARGER_WORDS = 'alternator generator shore charger dcdc wind hydro';
export const LOAD_WORDS = 'fridge freezer heater pump kettle cooker stove light lights fan router laptop oven boiler load';
export const SETPOINT_WORDS = 'setpoint target set wanted';

/** The words of a name: parted at signs and at capitals within, in small letters. "batt_Voltage2" is batt, voltage. */
export function wordsOf(name: string): string[] {
  const parted = name.replace(/([a-z0-9])([A-Z])/g, '$1 $2').toLowerCase();
  return parted.split(/[^a-z]+/).filter((word) => word !== '');
}

export const isAmong = (word: string, words: string): boolean => words.split(' ').includes(word);
