import type { AlarmEntry, BuiltInAlarm, Condition } from './schema/alarm-rule.ts';

/** A built-in alarm as a rule: all that an entry of the rig file may say, said. */
export interface BuiltIn extends AlarmEntry {
  readonly id: BuiltInAlarm;
  readonly title: string;
  readonly message: string;
  readonly levels: NonNullable<AlarmEntry['levels']>;
  readonly onDelay: number;
  readonly offDelay: number;
  readonly because: string[];
  readonly unknown: 'raise' | 'ignore';
  /**
   * It tells that something cannot be seen or reached, not that something is wrong out there. As a cause it holds back what is not known
   * because of it and other alarms of its kind, never a finding that is true: a dead thermometer must not hide an empty bank.
   */
  readonly ofSight?: true;
  readonly messageOver: string;
}

const above = (watch: string, limit: number, deadband?: number): Condition => ({ watch, above: limit, ...(deadband !== undefined && { deadband }) });
const below = (watch: string, limit: number, deadband?: number): Condition => ({ watch, below: limit, ...(deadband !== undefined && { deadband }) });
const all = (...conditions: Condition[]): Condition => ({ all: conditions });
const any = (...conditions: Condition[]): Condition => ({ any: conditions });
const yes = (watch: string): Condition => above(watch, 0.5, 0);
const some = (watch: string): Condition => above(watch, 0, 0);

const MINUTE = 60;
const HOUR = 3600;

/**
 * The built-in alarms. Priorities by what follows and how soon: critical, somebody may come to harm within minutes; high, the rig goes dark or
 * is damaged tonight unless somebody acts; medium, to be dealt with before bed; low, to be known. What only silent signals hide is said by
 * `sensor-silent`, and what those that are not believed hide by `sensor-suspect`, at the priority of what it hides, so those rules ignore what is not known.
 */
export const BUILT_IN: readonly BuiltIn[] = [
  {
    id: 'low-point',
    title: 'The bank tonight',
    levels: [
      { priority: 'medium', when: above('night.belowFloorProbability', 0.2) },
      { priority: 'high', when: above('night.belowFloorProbability', 0.5) },
    ],
    deadband: 0.05,
    onDelay: 10 * MINUTE,
    offDelay: 20 * MINUTE,
    message: '{night.outlook}',
    messageUnknown: 'Whether the bank holds this night is not known: {why}.',
    messageOver: '{night.outlookHeld}',
    because: ['broker-lost', 'sensor-silent', 'sensor-suspect'],
    unknown: 'raise',
  },
  {
    id: 'bank-low',
    title: 'The bank is low',
    levels: [
      // That the floor is crossed is no news while `low-point` says so, nor while the bank is being charged.
      { priority: 'medium', when: all(below('bank.marginPct', 0, 2), below('bank.hoursToEmpty', 24, 12), { not: { alarm: 'low-point' } }) },
      { priority: 'high', when: all(below('bank.marginPct', 0, 2), below('bank.hoursToEmpty', 2, 0.5)) },
      { priority: 'critical', when: all(below('bank.marginPct', 0, 2), below('bank.hoursToEmpty', 0.5, 0.25)) },
    ],
    onDelay: 5 * MINUTE,
    offDelay: 15 * MINUTE,
    message:
      'The bank is at {bank.socPct}, {bank.marginPct} its floor. At the draw of the last hour it is empty in {bank.hoursToEmpty}; then everything goes off, the mini-split too. Switch off what can be spared, or bring in a charge.',
    messageOver: 'The bank is no longer that low: {bank.socPct}, {bank.marginPct} its floor.',
    because: [],
    unknown: 'ignore',
  },
  {
    id: 'cell-low',
    title: 'A cell is nearly empty',
    levels: [
      { priority: 'medium', when: below('bank.cellMarginV', 0.3) },
      { priority: 'high', when: below('bank.cellMarginV', 0.15) },
    ],
    deadband: 0.1,
    onDelay: MINUTE,
    offDelay: 15 * MINUTE,
    message:
      'The lowest cell is at {bank.cellVoltageMin}, {bank.cellMarginV} its least, with the bank at {bank.socPct}. Its board may switch everything off. Draw less; if the bank is far from empty, that cell is weak.',
    messageOver: 'The lowest cell has come back to {bank.cellVoltageMin}.',
    because: ['bank-low'],
    unknown: 'ignore',
  },
  {
    id: 'voltage-low',
    title: 'The voltage sags',
    levels: [
      { priority: 'medium', when: all(below('inverter.cellMarginV', 0.12, 0.04), above('bank.socPct', 15, 3)) },
      { priority: 'high', when: all(below('inverter.cellMarginV', 0.05, 0.04), above('bank.socPct', 15, 3)) },
    ],
    onDelay: 30,
    offDelay: 10 * MINUTE,
    message:
      'The bank is at {bank.socPct}, yet its voltage sags to {bank.voltage} under load, {inverter.voltageMarginV} where the inverter switches off. Switch off a large load now. A loose or hot connection, cold or a weak cell may be why.',
    messageOver: 'The voltage holds again: {bank.voltage}.',
    because: ['bank-low', 'cell-low'],
    unknown: 'ignore',
  },
  {
    id: 'cold-charge',
    title: 'Charging in the cold',
    levels: [
      { priority: 'medium', when: all(below('bank.aboveChargeLimitK', 2, 1), above('bank.chargePctPerH', 2, 1)) },
      { priority: 'high', when: all(below('bank.aboveChargeLimitK', 0, 1), above('bank.chargePctPerH', 1, 0.5)) },
    ],
    onDelay: 2 * MINUTE,
    offDelay: 20 * MINUTE,
    message:
      'The bank is charged with {bank.chargePctPerH} at {bank.temperature}. Charging cells near or below freezing damages them for good. Stop the charge, or warm the bank first; its own board should have done so.',
    messageOver: 'The bank is no longer charged in the cold.',
    because: [],
    unknown: 'ignore',
  },
  {
    id: 'charge-blocked',
    title: 'The bank takes no charge',
    levels: [{ priority: 'medium', when: above('bank.refusedW', 100) }],
    deadband: 50,
    onDelay: 30 * MINUTE,
    offDelay: 30 * MINUTE,
    message:
      'The sun could give about {bank.refusedW} more, but the bank takes nothing at {bank.socPct}: {bank.refusal}. Without charge today the coming night starts low.',
    messageOver: 'The bank takes what the sun gives again, or there is no sun to take.',
    because: ['cold-charge'],
    unknown: 'ignore',
  },
  {
    id: 'cabin-hot',
    title: 'The cabin is too hot',
    levels: [
      { priority: 'medium', when: all(above('cabin.overK', 4, 1), above('cabin.worseningKPerH', -1, 0.5)) },
      { priority: 'high', when: all(above('cabin.overK', 4, 1), above('cabin.temperature', 35, 1), above('cabin.worseningKPerH', -1, 0.5)) },
    ],
    onDelay: 30 * MINUTE,
    offDelay: 30 * MINUTE,
    message: '{cabin.state}. Look after whoever is inside; air the cabin, shade it, and see whether the mini-split runs.',
    messageOver: '{cabin.state}. The mini-split gets along with the heat again.',
    because: ['minisplit-failing'],
    unknown: 'ignore',
  },
  {
    id: 'cabin-cold',
    title: 'The cabin is too cold',
    levels: [
      { priority: 'medium', when: all(above('cabin.underK', 4, 1), above('cabin.worseningKPerH', -1, 0.5)) },
      { priority: 'high', when: all(above('cabin.underK', 4, 1), below('cabin.temperature', 5, 1), above('cabin.worseningKPerH', -1, 0.5)) },
    ],
    onDelay: 30 * MINUTE,
    offDelay: 30 * MINUTE,
    message: '{cabin.state}. Look after whoever is inside and what can freeze; close doors and vents, and see whether the mini-split runs.',
    messageOver: '{cabin.state}. The mini-split gets along with the cold again.',
    because: ['minisplit-failing'],
    unknown: 'ignore',
  },
  {
    id: 'minisplit-failing',
    title: 'The mini-split',
    levels: [
      {
        priority: 'medium',
        when: any(
          // Trying and failing: power goes in, less than all it has, and the cabin still goes the wrong way.
          all(above('cabin.awayK', 2.5, 1), above('cabin.worseningKPerH', 1, 0.5), above('minisplit.meanPct', 5, 2), below('minisplit.meanPct', 85, 5)),
          // Power gone: it should be working and draws next to nothing.
          all(above('cabin.awayK', 2, 0.5), below('minisplit.meanPct', 5, 2), above('cabin.worseningKPerH', -0.5, 0.5)),
        ),
      },
      {
        priority: 'high',
        when: all(above('cabin.awayK', 6, 1), above('cabin.worseningKPerH', 0, 0.5), below('minisplit.meanPct', 85, 5)),
      },
    ],
    // Longer than any defrost, and than a door left open.
    onDelay: 25 * MINUTE,
    offDelay: 20 * MINUTE,
    message: '{minisplit.trouble}. {cabin.state}. See whether it is switched off, shows a fault, or is blocked by ice or a dirty filter.',
    messageOver: '{cabin.state}. The mini-split does its work again, or is no longer asked to.',
    // Without a bank there is no power to hold the cabin with.
    because: ['bank-low'],
    unknown: 'ignore',
  },
  {
    id: 'sensor-silent',
    title: 'Sensors are silent',
    levels: [
      { priority: 'low', when: some('sensors.silent') },
      { priority: 'medium', when: some('sensors.silentNeeded') },
      { priority: 'high', when: some('sensors.silentBank') },
    ],
    onDelay: 15 * MINUTE,
    offDelay: 5 * MINUTE,
    message: 'Nothing comes from {sensors.silent}. What depends on it is not watched until it speaks again: look at its power and its Wi-Fi.',
    messageOver: 'All sensors that were silent speak again.',
    because: ['broker-lost'],
    unknown: 'ignore',
    ofSight: true,
  },
  {
    id: 'sensor-suspect',
    title: 'Sensors that are not believed',
    levels: [
      { priority: 'low', when: some('sensors.suspect') },
      { priority: 'medium', when: some('sensors.unbelievedNeeded') },
      { priority: 'high', when: some('sensors.unbelievedBank') },
    ],
    onDelay: 15 * MINUTE,
    offDelay: 15 * MINUTE,
    message: 'What {sensors.suspect} says is not believed, and not used. What depends on it alone is not watched until it is. The Sensors screen says why.',
    messageOver: 'All sensors are believed again.',
    because: ['broker-lost'],
    unknown: 'ignore',
    ofSight: true,
  },
  {
    id: 'not-anchored',
    title: 'No full charge for days',
    levels: [
      { priority: 'low', when: above('bank.daysSinceFull', 7, 0) },
      { priority: 'medium', when: all(above('bank.daysSinceFull', 10, 0), above('bank.socSigmaPct', 6, 1)) },
    ],
    onDelay: HOUR,
    offDelay: 10 * MINUTE,
    message:
      'The last full charge: {bank.lastFull}. Until the next one the state of charge is only counted, and may be off by {bank.socSigmaPct}. Let the bank charge until it is full when the sun allows.',
    messageOver: 'The bank has been full: the state of charge is anchored again.',
    because: [],
    unknown: 'ignore',
  },
  {
    id: 'panels-weak',
    title: 'The panels give less',
    levels: [{ priority: 'low', when: any(above('panels.dirtPct', 8, 3), above('panels.shadePct', 25, 10), above('panels.unexplainedPct', 40, 15)) }],
    onDelay: HOUR,
    offDelay: HOUR,
    message: 'The panels give less than a clear sky would: {panels.weakness}.',
    messageOver: 'The panels give again about what a clear sky should.',
    because: ['charge-blocked'],
    unknown: 'ignore',
  },
  {
    id: 'unaccounted-load',
    title: 'Power that nothing explains',
    levels: [
      {
        priority: 'low',
        when: any(
          above('balance.unaccountedW', 150, 50),
          below('balance.unaccountedW', -150, 50),
          above('bank.unseenA', 0.5, 0.2),
          below('bank.unseenA', -0.5, 0.2),
        ),
      },
    ],
    onDelay: 20 * MINUTE,
    offDelay: 30 * MINUTE,
    message: '{balance.leftOver}. Nothing is learned from it.',
    messageOver: '{balance.leftOver}.',
    because: ['sensor-silent'],
    unknown: 'ignore',
  },
  {
    id: 'store-failing',
    title: 'Readings are not kept',
    levels: [{ priority: 'medium', when: yes('box.storeFailing') }],
    onDelay: 2 * MINUTE,
    offDelay: 5 * MINUTE,
    message:
      'Readings cannot be stored. Alarms go on from memory, and what can waits there, but a power cut now loses it. See whether the card is full or failing.',
    messageOver: 'Readings are kept again, and what waited in memory with them.',
    because: [],
    unknown: 'ignore',
    ofSight: true,
  },
  {
    id: 'copy-failing',
    title: 'The copy on the server stands still',
    levels: [{ priority: 'low', when: yes('box.copyFailing') }],
    onDelay: 2 * MINUTE,
    offDelay: 5 * MINUTE,
    message:
      'The server for the copy of the readings refuses them, or so many wait for it that the oldest are dropped. The rig keeps its own; the Rig screen says what the server answers.',
    messageOver: 'The server takes the copy of the readings again.',
    because: [],
    unknown: 'ignore',
    ofSight: true,
  },
  {
    id: 'broker-lost',
    title: 'The broker is lost',
    levels: [{ priority: 'medium', when: yes('box.brokerLost') }],
    onDelay: 2 * MINUTE,
    // Boards come back one after another.
    offDelay: 3 * MINUTE,
    message: 'The connection to the broker is lost: no sensor is heard, and nothing is watched. See whether the broker and the network of the rig are up.',
    messageOver: 'The broker is heard again.',
    because: [],
    unknown: 'ignore',
    ofSight: true,
  },
  {
    id: 'clock-unsure',
    title: 'The clock is not sure',
    levels: [{ priority: 'low', when: yes('box.clockUnsure') }],
    onDelay: 15 * MINUTE,
    offDelay: MINUTE,
    message:
      'The box does not know for sure what time it is, so sunrise and the times it tells may be wrong. It sets its clock when it next reaches a time server.',
    messageOver: 'The clock is set.',
    because: [],
    unknown: 'ignore',
    ofSight: true,
  },
  {
    id: 'route-failing',
    title: 'Alarms may not reach you',
    levels: [
      { priority: 'low', when: some('routes.failing') },
      { priority: 'medium', when: yes('routes.none') },
    ],
    onDelay: 10 * MINUTE,
    offDelay: 10 * MINUTE,
    message: 'Alarms do not get through by {routes.failing}. Test the routes on the Alarms screen; until they work, only the tablet in the rig can wake you.',
    messageOver: 'All routes get through again.',
    because: [],
    unknown: 'ignore',
    ofSight: true,
  },
  {
    id: 'watch-hot',
    title: 'Too hot for who is inside',
    levels: [{ priority: 'critical', when: all(yes('watch.armed'), above('watch.overK', 0, 0.5)) }],
    onDelay: 30,
    offDelay: 10 * MINUTE,
    message: 'It is too hot for who is inside: {watch.places}. Go there now, or have someone near open the doors. Minutes count.',
    messageOver: 'Within the limit again where they are: {watch.places}.',
    because: [],
    unknown: 'ignore',
  },
  {
    id: 'watch-cold',
    title: 'Too cold for who is inside',
    levels: [{ priority: 'critical', when: all(yes('watch.armed'), above('watch.underK', 0, 0.5)) }],
    onDelay: MINUTE,
    offDelay: 10 * MINUTE,
    message: 'It is too cold for who is inside: {watch.places}. Go there now, or send someone near.',
    messageOver: 'Within the limit again where they are: {watch.places}.',
    because: [],
    unknown: 'ignore',
  },
  {
    id: 'watch-rising',
    title: 'It changes fast where they are',
    levels: [
      {
        priority: 'critical',
        when: all(
          yes('watch.armed'),
          any(all(above('watch.riseK', 2, 1), above('watch.overK', -6, 1)), all(above('watch.fallK', 2, 1), above('watch.underK', -6, 1))),
        ),
      },
    ],
    onDelay: 30,
    offDelay: 10 * MINUTE,
    message:
      'The temperature where they are changes fast, {watch.change}: {watch.places}. Cooling or heating may have stopped. Go there now, or send someone near.',
    messageOver: 'The temperature where they are changes slowly again: {watch.places}.',
    because: [],
    unknown: 'ignore',
  },
  {
    id: 'watch-blind',
    title: 'The watch cannot see',
    levels: [
      { priority: 'high', when: all(yes('watch.armed'), some('watch.blind')) },
      { priority: 'critical', when: all(yes('watch.armed'), below('watch.thermometers', 1, 0)) },
    ],
    onDelay: 2 * MINUTE,
    offDelay: 2 * MINUTE,
    message: 'Somebody is inside, and the watch over them cannot be trusted: {watch.blind}. Do not wait for another alarm: go back, or send someone near.',
    messageOver: 'The watch sees and reaches again.',
    because: [],
    unknown: 'ignore',
    ofSight: true,
  },
];

/** Ids of the alarms of the watch over somebody inside. Nobody is there to be left asleep: quiet hours are not for them. */
export const OF_WATCH: ReadonlySet<string> = new Set<string>(BUILT_IN.map(({ id }) => id).filter((id) => id.startsWith('watch-')));

/** Ids of the alarms that tell only that something cannot be seen or reached. */
export const OF_SIGHT: ReadonlySet<string> = new Set<string>(BUILT_IN.filter(({ ofSight }) => ofSight).map(({ id }) => id));
