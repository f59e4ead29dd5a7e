import { describe, expect, test } from 'vitest';
import { createLog } from '../../../deploy/start/log.ts';
import { createLogRing } from '../../../deploy/start/log-ring.ts';
import { LogLines } from '../../../shared/schema/rig-book.ts';

describe('the log', () => {
  test('goes out as lines for people, and stays at hand for the screens', () => {
    const lines: string[] = [];
    const ring = createLogRing();
    const log = createLog({ ring, write: (line) => lines.push(line) });
    log.info('broker connected: all topics');
    log.warn({ path: '/home/me/rig.sqlite' }, 'the store was damaged');
    log.error({ err: new Error('the disk is gone') }, 'a request failed');
    expect(lines.map((line) => line.slice(9))).toEqual([
      'broker connected: all topics\n',
      'warning: the store was damaged {"path":"/home/me/rig.sqlite"}\n',
      expect.stringMatching(/^ERROR a request failed \{"err":/),
    ]);
    expect(LogLines.parse(ring.newest(10)).map(({ level, text }) => [level, text])).toEqual([
      ['info', 'broker connected: all topics'],
      ['warning', 'the store was damaged'],
      ['error', 'a request failed: the disk is gone'],
    ]);
  });

  test('keeps the newest lines alone, and gives as many as are asked for, oldest first', () => {
    const ring = createLogRing(100);
    for (let i = 0; i < 1050; i += 1) ring.add({ tMs: i, level: 'info', text: `${i}` });
    expect(ring.newest(3).map(({ text }) => text)).toEqual(['1047', '1048', '1049']);
    expect(ring.newest(1000)).toHaveLength(100);
    expect(ring.newest(1000)[0]?.text).toBe('950');
  });

  test('does not tell the screens in which folders files lie, and cuts a line that is too long', () => {
    const ring = createLogRing();
    const told = (text: string) => {
      ring.add({ tMs: 1, level: 'info', text });
      return ring.newest(1)[0]?.text;
    };
    expect(told('the key is new; it lies in /home/me/dawnhold/.data/wren/push-keys.json')).toBe('the key is new; it lies in push-keys.json');
    expect(told("cannot open '/var/lib/x y/rig.sqlite': gone")).toBe("cannot open 'x y/rig.sqlite': gone");
    expect(told('open http://127.0.0.1:8350')).toBe('open http://127.0.0.1:8350');
    expect(told('no message on wren/shunt since 2/3')).toBe('no message on wren/shunt since 2/3');
    expect(told('x'.repeat(5000))).toHaveLength(2000);
  });
});
