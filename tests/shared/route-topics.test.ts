import { describe, expect, test } from 'vitest';
import { parseRigFile } from '../../collector/config/load.ts';

const RIG = `rig: { id: heron, name: Heron }
bank: { cells: 4, capacityAh: 280 }
signals:
  bank.voltage: { topic: a, unit: V }
  bank.current: { topic: b, unit: A }
`;
const issuesOf = (text: string): string[] => {
  try {
    parseRigFile(RIG + text, 'rig.yaml');
    return [];
  } catch (error) {
    return (error as { issues: { path: string; expected: string }[] }).issues.map(({ path, expected }) => `${path}: ${expected}`);
  }
};

describe('routes that the rig file names', () => {
  test('the tablet and the phones are there without being named, and stay beside others', () => {
    expect(parseRigFile(RIG, 'rig.yaml').routes).toEqual({ tablet: { kind: 'tablet' }, phones: { kind: 'push' } });
    const { routes } = parseRigFile(`${RIG}routes:\n  lamp: { kind: mqtt, topic: rig/lamp }\n`, 'rig.yaml');
    expect(Object.keys(routes)).toEqual(['tablet', 'phones', 'lamp']);
  });

  test('one that is not there is refused where it is named, with those that are', () => {
    const wrong = `routes: { lamp: { kind: mqtt, topic: rig/lamp } }
callOut:
  low: { first: [lamps] }
  high: { first: [lamp], atNight: [lamp, horn], then: [{ after: 5 min, routes: [constructor] }] }
briefings: { routes: [lamp, letter] }
`;
    const there = 'one of the routes: tablet, phones, lamp';
    expect(issuesOf(wrong)).toEqual([
      `callOut.low.first.0: ${there}`,
      `callOut.high.atNight.1: ${there}`,
      `callOut.high.then.0.routes.0: ${there}`,
      `briefings.routes.1: ${there}`,
    ]);
    expect(issuesOf(wrong.replace('lamps', 'lamp').replace('horn', 'phones').replace('constructor', 'tablet').replace('letter', 'tablet'))).toEqual([]);
  });

  test('a lamp on the topic of a signal is refused', () => {
    const lamp = (topic: string) => issuesOf(`routes: { lamp: { kind: mqtt, topic: ${topic} } }\n`);
    expect(lamp('b')).toEqual(['routes.lamp.topic: a topic of its own, that no signal is read from']);
    expect(lamp('b/lamp')).toEqual([]);
  });
});
