import { describe, expect, it } from 'vitest';
import { describeIssues, parseRigFile } from '../../../collector/config/load.ts';
import { AppError } from '../../../shared/errors.ts';

const RIG = `rig: { id: heron, name: Heron }
bank: { cells: 8, capacityAh: 280 }
signals:
  bank.voltage: { topic: v }
  bank.current: { topic: a }
  cabin.temperature: { topic: c, every: 60 s }
  tank.level: { topic: t, quantity: humidity }
`;

/** The mistakes of a rig file with these alarms, a line each, from the column on. */
function told(alarms: string, more = ''): string[] {
  try {
    parseRigFile(`${RIG}alarms:\n${alarms.replace(/^/gm, '  ')}\n${more}`, 'rig.yaml');
  } catch (error) {
    if (error instanceof AppError && error.code === 'RIG_FILE_INVALID') return describeIssues(error.issues).split('\n');
    throw error;
  }
  return [];
}
const of = (when: string): string[] => told(`- { id: mine, priority: low, when: ${when} }`).map((line) => line.replace(/^\S+ alarms\.0\./, ''));

describe('a rule of the person', () => {
  it.each([
    '{ watch: cabin.temperature, above: 30 }',
    '{ watch: cabin.temperature, below: "75 degF", deadband: "5 degF" }',
    '{ watch: cabin.temperature, between: [10, 15] }',
    '{ watch: cabin.temperature, silent: 3 min }',
    '{ watch: cabin.temperature, rising: "4 degF", within: 10 min }',
    '{ watch: tank.level, below: "20 %" }',
    '{ watch: night.belowFloorProbability, above: 0.1 }',
    '{ not: { alarm: low-point } }',
    '{ any: [{ watch: tank.level, below: 20 }, { all: [{ watch: cabin.temperature, above: 30 }, { not: { watch: cabin.temperature, above: 40 } }] }] }',
  ])('may look at %s', (when) => {
    expect(of(when)).toEqual([]);
  });

  it.each([
    [
      '{ watch: cabin.temprature, above: 30 }',
      'when.watch: got the text "cabin.temprature", expected a signal of this rig, or a derived or projected quantity; did you mean "cabin.temperature"?',
    ],
    [
      '{ watch: outside.temperature, above: 30 }',
      'when.watch: got the text "outside.temperature", expected a signal that is mapped under signals; map outside.temperature first',
    ],
    [
      '{ watch: cabin.temperature, above: "30 V" }',
      'when.above: got the text "30 V", expected a number in Cel, or a text with a unit of temperature such as "75 degF"',
    ],
    [
      '{ watch: cabin.temperature, above: 30, deadband: "2 W" }',
      'when.deadband: got the text "2 W", expected a number in K, or a text with a unit of temperature such as "75 degF"',
    ],
    ['{ watch: tank.level, above: much }', 'when.above: got the text "much", expected a number in %RH, or a text with a unit of humidity'],
    ['{ watch: cabin.temperature, above: 130 }', 'when.above: got the number 130, expected from -40 to under 80 Cel, since Cabin temperature can be no other'],
    ['{ watch: tank.level, below: 0 }', 'when.below: got the number 0, expected over 0 and up to 100 %RH, since tank.level can be no other'],
    [
      '{ watch: cabin.temperature, above: "400 degF" }',
      'when.above: got the text "400 degF", expected from -40 to under 80 Cel, since Cabin temperature can be no other',
    ],
    ['{ watch: cabin.temperature, between: [20, 10] }', 'when.between: got a list of 2, expected the lower end first; for "outside of", use not around it'],
    ['{ watch: cabin.temperature, between: [-40, 80] }', 'when.between: got a list of 2, expected a part of what Cabin temperature can be, from -40 to 80 Cel'],
    ['{ watch: cabin.temperature }', 'when: got no test, expected one of below, above, between, silent, rising, falling beside watch'],
    [
      '{ watch: cabin.temperature, above: 30, below: 20 }',
      'when: got below and above, expected one of below, above, between, silent, rising, falling beside watch; join several conditions with all or any',
    ],
    ['{ watch: cabin.temperature, rising: 2 }', 'when: got rising alone, expected within beside it; such as within: 10 min'],
    [
      '{ watch: cabin.temperature, rising: 200, within: 10 min }',
      'when.rising: got the number 200, expected more than 0 and at most 120 K, which is all that it can change',
    ],
    [
      '{ watch: cabin.temperature, above: 30, within: 10 min }',
      'when.within: got the text "10 min", expected rising or falling beside it; leave it out; onDelay says how long a condition must stand',
    ],
    [
      '{ watch: night.belowFloorProbability, silent: 60 }',
      'when.silent: got the number 60, expected a signal to watch; a quantity that is not known is told of by itself',
    ],
    [
      '{ watch: cabin.temperature, silent: 30 s }',
      'when.silent: got the text "30 s", expected more than 60 s, since it is sent only so often; three times that is a good choice',
    ],
    [
      '{ watch: tank.level, below: 20, deadband: 90 }',
      'when.deadband: got the number 90, expected from 0 to under 80 %RH, since the alarm would never end with more',
    ],
    ['{ watch: night.outlook, above: 1 }', 'when.watch: got the text "night.outlook", expected a signal of this rig, or a derived or projected quantity'],
    ['{ alarm: low-pont }', 'when.alarm: got the text "low-pont", expected the id of an alarm; did you mean "low-point"?'],
    ['{ wach: cabin.temperature, above: 30 }', 'when.watch: got nothing, expected a text'],
    ['{ all: [] }', 'when.all: got a list of 0, expected a list of 1 to 16 conditions'],
    ['[1]', 'when: got a list of 1, expected a condition: watch with a test, or one of alarm, all, any, not'],
    [
      '{ not: { alarm: low-point }, any: [{ alarm: low-point }] }',
      'when: got a group of keys, expected one of watch, alarm, all, any, not; join several with all or any',
    ],
    ['{ not: { not: { not: { not: { not: { not: { alarm: low-point } } } } } } }', expect.stringContaining('expected at most 6 conditions within each other')],
    [
      '{ all: [{ watch: cabin.temperature, above: 30 }, { watch: cabin.temperature, below: 20 }] }',
      'when: got a condition that can never be true (cabin.temperature above 30 Cel, cabin.temperature below 20 Cel), expected one that can; the alarm would never be raised',
    ],
    [
      '{ any: [{ watch: cabin.temperature, above: 20 }, { watch: cabin.temperature, below: 30 }] }',
      'when: got a condition that is always true (cabin.temperature above 20 Cel, cabin.temperature below 30 Cel), expected one that can be false; the alarm would never end',
    ],
    [
      '{ all: [{ alarm: low-point }, { not: { alarm: low-point } }] }',
      expect.stringContaining('a condition that can never be true (the alarm low-point, the alarm low-point)'),
    ],
  ])('is refused with its place and reason: %s', (when, line) => {
    expect(of(when)).toContainEqual(line);
  });

  it('finds what contradicts itself also among more conditions than can be tried together', () => {
    const many = Array.from({ length: 14 }, (_, i) => `{ watch: cabin.temperature, rising: ${i + 1}, within: 10 min }`).join(', ');
    expect(of(`{ all: [${many}, { watch: tank.level, above: 50 }, { watch: tank.level, below: 40 }] }`)[0]).toContain('can never be true');
    expect(of(`{ all: [${many}, { watch: tank.level, above: 50 }] }`)).toEqual([]);
  });

  it.each([
    ['- { id: mine }', 'alarms.0: got no condition, expected when and priority, or levels; or the id of a built-in alarm to adjust'],
    ['- { id: mine, when: { alarm: low-point } }', 'alarms.0.priority: got nothing, expected one of low, medium, high, critical, since when stands beside it'],
    ['- { id: Mine, when: { alarm: low-point }, priority: low }', expect.stringContaining('alarms.0.id: got the text "Mine", expected lower-case letters')],
    [
      '- { id: mine, priority: low, when: { alarm: low-point }, message: "it is {cabin.temperatur}" }',
      'alarms.0.message: got the value {cabin.temperatur}, expected signals and quantities in braces; did you mean "cabin.temperature"?',
    ],
    [
      '- { id: mine, priority: low, when: { alarm: low-point }, message: "since {why}" }',
      'alarms.0.message: got the value {why}, expected signals and quantities in braces; why is known in messageUnknown only',
    ],
    [
      '- { id: mine, priority: low, when: { alarm: low-point }, message: "at {place.lat}, { place.lon }" }',
      'alarms.0.message: got the value {place.lat}, expected no position: what is sent by the routes passes through other hands',
    ],
    [
      '- { id: mine, priority: low, when: { alarm: low-point }, routes: [phone] }',
      'alarms.0.routes.0: got the text "phone", expected one of the routes: tablet, phones; did you mean "phones"?',
    ],
    ['- { id: mine, priority: low, when: { alarm: low-point }, because: [mine] }', 'alarms.0.because.0: got the text "mine", expected the id of another alarm'],
    [
      '- { id: mine, priority: low, when: { alarm: low-point } }\n- { id: mine, priority: low, when: { alarm: low-point } }',
      'alarms.1.id: got the text "mine", expected each id once; it stands in entry 1 already; put both into one',
    ],
    [
      '- { id: mine, notice: 0.3, priority: low, when: { alarm: low-point } }',
      'alarms.0.notice: got the number 0.3, expected nothing here: it is for low-point only',
    ],
    ['- { id: low-point, notice: 0.6 }', 'alarms.0.notice: got the number 0.6, expected less than urgent, which is 0.5; or set urgent too'],
    ['- { id: low-point, urgent: 0.1 }', 'alarms.0.urgent: got the number 0.1, expected more than notice, which is 0.2; or set notice too'],
    ['- { id: low-point, notice: 0.5, urgent: 0.3 }', 'alarms.0.urgent: got the number 0.3, expected more than notice'],
    [
      '- { id: low-point, priority: low }',
      'alarms.0.priority: got the text "low", expected when beside it; low-point has several levels; give levels to change their priorities',
    ],
    [
      '- id: mine\n  levels:\n    - { priority: high, when: { watch: tank.level, below: 20 } }\n    - { priority: low, when: { watch: tank.level, below: 10 } }',
      'alarms.0.levels.1.priority: got the text "low", expected a higher priority than high, since levels rise',
    ],
    [
      '- id: mine\n  levels:\n    - { priority: low, when: { watch: tank.level, below: 20 } }\n    - { priority: high, when: { watch: tank.level, below: 20 } }',
      'alarms.0.levels.0.when: got a level that never counts, expected one that can be true while no higher one is; High is true whenever Low is; set the limit of Low higher than that of High',
    ],
    [
      '- id: mine\n  levels:\n    - { priority: medium, when: { watch: tank.level, above: 60 } }\n    - { priority: high, when: { watch: tank.level, above: 50 } }',
      'alarms.0.levels.0.when: got a level that never counts, expected one that can be true while no higher one is; High is true whenever Medium is; set the limit of Medium lower than that of High',
    ],
    [
      '- id: mine\n  levels:\n    - { priority: low, when: { watch: tank.level, between: [10, 20] } }\n    - { priority: high, when: { watch: tank.level, below: 30 } }',
      'alarms.0.levels.0.when: got a level that never counts, expected one that can be true while no higher one is; High is true whenever Low is',
    ],
    [
      '- id: mine\n  levels:\n    - { priority: low, when: { watch: tank.level, above: 40 } }\n    - { priority: medium, when: { watch: tank.level, between: [30, 60] } }\n    - { priority: high, when: { watch: tank.level, above: 50 } }',
      'alarms.0.levels.0.when: got a level that never counts, expected one that can be true while no higher one is; one of the higher levels is true whenever Low is',
    ],
  ])('is refused where its keys do not go together: %s', (alarms, line) => {
    expect(told(alarms).map((one) => one.replace(/^\S+ /, ''))).toContainEqual(line);
  });

  it('that leads back to itself is refused with the whole circle, at its first entry', () => {
    const rule = (id: string, more: string) => `- { id: ${id}, priority: low, when: { watch: tank.level, below: 20 }, ${more} }`;
    const alarms = [rule('first', 'because: [second]'), rule('second', 'because: [third]'), '- { id: third, priority: low, when: { not: { alarm: first } } }'];
    expect(told(alarms.join('\n'))).toEqual([
      'rig.yaml:9:5 alarms.0: got a circle: first because of second because of third because of first, expected alarms that do not lead back to themselves',
    ]);
  });

  it('has its mistakes told with all others of the file, each at its place', () => {
    const alarms = `- { id: one, priority: low, when: { any: [{ watch: tank.level, below: 120 }, { watch: cabin.temp, abov: 3, above: 4 }] }, onDelay: soon }
- { id: two, priority: low, when: { alarm: one }, because: [onee], routes: [horn] }`;
    expect(told(alarms, 'briefings: { routes: [phons] }\ncallOut: { low: { first: [horn], then: [{ after: 60, routes: [tablet, pager] }] } }')).toEqual([
      'rig.yaml:9:101 alarms.0.when.any.1.abov: got an unknown key, expected one of watch, below, above, between, silent, rising, falling, within, deadband, alarm, all, any, not; did you mean "above"?',
      expect.stringMatching(/^rig.yaml:9:\d+ alarms.0.onDelay: got the text "soon"/),
      'rig.yaml:10:63 alarms.1.because.0: got the text "onee", expected the id of another alarm; did you mean "one"?',
      'rig.yaml:10:79 alarms.1.routes.0: got the text "horn", expected one of the routes: tablet, phones',
      'rig.yaml:11:23 briefings.routes.0: got the text "phons", expected one of the routes: tablet, phones; did you mean "phones"?',
      'rig.yaml:12:27 callOut.low.first.0: got the text "horn", expected one of the routes: tablet, phones',
      'rig.yaml:12:71 callOut.low.then.0.routes.1: got the text "pager", expected one of the routes: tablet, phones',
    ]);
  });

  it('is not blamed for a signal that has a mistake of its own', () => {
    const lines = told('- { id: mine, priority: low, when: { watch: cabin.temperature, above: 30 } }').length;
    expect(lines).toBe(0);
    const text = `${RIG.replace('every: 60 s', 'every: 60 s, unit: V')}alarms:\n  - { id: mine, priority: low, when: { watch: cabin.temperature, above: 30 } }\n`;
    expect(() => parseRigFile(text, 'rig.yaml')).toThrow(/a mistake:\nrig.yaml:6:\d+ signals.cabin.temperature.unit/);
  });
});
