/** Says a limit of one quantity as a clause; `text` says an amount in the rig's units. */
export type Clause = (test: 'below' | 'above', limit: number, text: (amount: number) => string) => string;

/** "… more than 85 % …": where only the amount changes. */
const amount =
  (before: string, after = ''): Clause =>
  (test, limit, text) =>
    `${before} ${test === 'above' ? 'more' : 'less'} than ${text(limit)}${after}`;

/** "… is more than 4 K above …": a difference whose sign says the side. */
const beside =
  (subject: string, [over, under]: readonly [string, string], after = ''): Clause =>
  (test, limit, text) => {
    const isMore = (test === 'above') === limit > 0;
    if (limit === 0) return `${subject} is ${test === 'above' ? over : under}${after}`;
    const size = `${isMore ? 'more than' : limit > 0 ? 'less than' : 'at most'} ${text(Math.abs(limit))}`;
    return `${subject} is ${size} ${limit > 0 ? over : under}${after}`;
  };

/** Two clauses, one for either sign. */
const flow =
  (plus: string, minus: string, plain: string): Clause =>
  (test, limit, text) => {
    if ((test === 'above') !== limit >= 0 && limit !== 0) return `${plain} is ${test === 'above' ? 'over' : 'under'} ${text(limit)}`;
    return `more than ${text(Math.abs(limit))} ${test === 'above' ? plus : minus}`;
  };

/** How many of something: "at least one signal is silent". */
const count =
  (one: string, many: string): Clause =>
  (test, limit) => {
    const whole = test === 'above' ? Math.floor(limit) + 1 : Math.ceil(limit);
    if (test === 'above') return whole <= 1 ? `at least one ${one}` : `at least ${whole} ${many}`;
    return whole <= 1 ? `no ${one}` : `fewer than ${whole} ${many}`;
  };

const worsening: Clause = (test, limit, text) => {
  const [away, back] = ['the cabin moves away from the setpoint', 'the cabin comes back to the setpoint'];
  if (limit === 0) return test === 'above' ? away : back;
  if (limit > 0) return `${away} by ${test === 'above' ? 'more' : 'less'} than ${text(limit)}`;
  return `${back} by ${test === 'above' ? 'at most' : 'more than'} ${text(-limit)}`;
};

const timeLeft: Clause = (test, limit, text) =>
  test === 'above'
    ? `the bank lasts more than ${text(limit)} at the draw of the last hour`
    : `the bank is empty within ${text(limit)} at the draw of the last hour`;

/** Quantities whose label does not make a clause with "is over" or "is under". */
export const CLAUSES: ReadonlyMap<string, Clause> = new Map([
  ['night.lowPointPct', amount('the low point expected this night is')],
  ['night.sunrisePct', amount('the state of charge expected at sunrise is')],
  ['night.marginWh', amount('what the bank is expected to keep above the floor at the low point is')],
  ['bank.socSigmaPct', amount('the state of charge may be off by')],
  ['bank.marginPct', beside('the state of charge', ['above the floor', 'under the floor'])],
  ['bank.hoursToEmpty', timeLeft],
  ['bank.chargePctPerH', amount('the bank is charged with')],
  ['bank.daysSinceFull', amount('the last full charge is', ' ago')],
  ['bank.cellMarginV', beside('the lowest cell', ['above its least voltage', 'under its least voltage'])],
  ['bank.aboveChargeLimitK', beside('the bank', ['warmer than it must be for charging', 'colder than it must be for charging'])],
  ['bank.refusedW', amount('the bank is not nearly full, yet leaves', ' of panel power')],
  ['bank.unseenA', flow('of charge passes by the shunt unseen', 'of load passes by the shunt unseen', 'the current that the shunt does not see')],
  ['inverter.voltageMarginV', beside('the bank voltage', ["above the inverter's cut-off", "under the inverter's cut-off"])],
  ['inverter.cellMarginV', beside('the bank voltage', ["above the inverter's cut-off", "under the inverter's cut-off"], ', per cell')],
  ['cabin.overK', beside('the cabin', ['above the setpoint', 'under the setpoint'], ' while the mini-split cools')],
  ['cabin.underK', beside('the cabin', ['under the setpoint', 'above the setpoint'], ' while the mini-split heats')],
  ['cabin.awayK', beside('the cabin', ['on the wrong side of the setpoint', 'on the right side of the setpoint'])],
  ['cabin.worseningKPerH', worsening],
  ['minisplit.meanW', amount('the mini-split draws')],
  ['minisplit.meanPct', amount('the mini-split draws', ' of its full power')],
  ['panels.dirtPct', amount('dirt takes', ' of what a clear day gives')],
  ['panels.shadePct', amount('in the last day shade took', ' of what a clear day gives')],
  ['panels.unexplainedPct', amount('in the last day', ' of what a clear day gives was lost without a plain sign')],
  ['balance.unaccountedW', flow('goes where nothing known draws it', 'comes from no known source', 'the power left over')],
  ['sensors.silent', count('signal is silent', 'signals are silent')],
  ['sensors.silentNeeded', count('signal that other alarms need is silent', 'signals that other alarms need are silent')],
  ['sensors.silentBank', count("signal of the bank's shunt is silent", "signals of the bank's shunt are silent")],
  ['sensors.suspect', count('signal is not believed', 'signals are not believed')],
  ['routes.failing', count('route fails', 'routes fail')],
  ['watch.overK', beside('the warmest watched place', ['above its limit', 'under its limit'])],
  ['watch.underK', beside('the coldest watched place', ['under its limit', 'above its limit'])],
  ['watch.riseK', amount('a watched place has warmed by', ' in ten minutes')],
  ['watch.fallK', amount('a watched place has cooled by', ' in ten minutes')],
  ['watch.thermometers', count('watched thermometer speaks', 'watched thermometers speak')],
  ['watch.blind', count('thing cannot be seen or reached by the watch', 'things cannot be seen or reached by the watch')],
]);

/** Two limits of one quantity at a time, said as one. */
export const RANGES: ReadonlyMap<string, (from: string, to: string) => string> = new Map([
  ['minisplit.meanPct', (from, to) => `the mini-split draws ${from} to ${to} of its full power`],
]);

/** What it means when a yes-or-no quantity is no. */
export const DENIALS: ReadonlyMap<string, string> = new Map([
  ['box.brokerLost', 'the broker is connected'],
  ['box.storeFailing', 'readings are kept'],
  ['box.copyFailing', 'the copy on the server goes on'],
  ['box.clockUnsure', 'the clock is sure'],
  ['routes.none', 'a route away from the rig is left'],
  ['watch.armed', 'no watch over somebody inside is armed'],
]);
