/** What goes when a signal is taken out, by its name. */
const LOST: Readonly<Record<string, string>> = {
  'bank.voltage': 'Nothing can be computed without it: no state of charge, no flows, no projection, no alarms of the bank.',
  'bank.current': 'Nothing can be computed without it: no state of charge, no flows, no projection, no alarms of the bank.',
  'bank.stateOfCharge': 'The state of charge is then estimated from current and voltage alone, with more doubt until the next full charge.',
  'bank.temperature': 'The watch against charging in the cold goes by the cabin, or not at all.',
  'bank.cellVoltageMin': 'A single weak cell is no longer noticed.',
  'panels.power': 'Panels, all loads and the surplus can no longer be told, and the mornings no longer be learned.',
  'minisplit.power': 'The mini-split can no longer be told from the other loads, and a setpoint’s price only be guessed.',
  'minisplit.setpoint': 'The setpoint of the rig file counts instead.',
  'minisplit.mode': 'The mode of the rig file counts instead.',
  'cabin.temperature': 'The cabin drops out of the projection, and the alarms of its heat and cold with it.',
  'cabin.humidity': 'The dew point in the cabin, and what drying takes, are no longer known.',
  'outside.temperature': 'Tonight’s weather drops out of the projection.',
  'outside.humidity': 'The dew point outside is no longer known.',
  'outside.irradiance': 'Panels are then judged by the sun’s height and their own past alone.',
  'place.lat': 'The rig no longer follows its place by itself; the coordinates of the rig file count.',
  'place.lon': 'The rig no longer follows its place by itself; the coordinates of the rig file count.',
  'place.heading': 'Tilted panels are then taken as the rig file says, whichever way the rig stands.',
};

/** What is lost by taking a signal out of the rig file, in a sentence or two. What was stored of it stays. */
export function lostWith(signal: string): string {
  const known = Object.hasOwn(LOST, signal) ? LOST[signal] : undefined;
  if (known !== undefined) return known;
  if (signal.startsWith('charge.')) return 'What this charger gives stands among the unaccounted then.';
  if (signal.startsWith('load.')) return 'This load is then a part of the standing load.';
  return 'Alarm rules that watch it are then refused.';
}
