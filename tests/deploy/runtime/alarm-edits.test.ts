import { chmod, mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { openRigFile, type RigFilePort } from '../../../collector/config/edit.ts';
import { editAlarms } from '../../../deploy/runtime/alarm-edits.ts';
import type { EditPort } from '../../../deploy/runtime/file-edits.ts';
import { Command } from '../../../shared/schema/api.ts';

const TEXT = `# My rig
rig: { id: heron, name: Heron }
bank: { cells: 8, capacityAh: 280 }
signals:
  bank.voltage: { topic: heron/shunt, format: json, pointer: /v }
  bank.current: { topic: heron/shunt, format: json, pointer: /a }
  cabin.temperature: { topic: heron/cabin }
alarms:
  # the dog
  - id: cabin-hot
    priority: high # not more
    when: { watch: cabin.temperature, above: 30 }
    onDelay: 5 min # as long as a door stands open
  # the night
  - { id: low-point, notice: 0.3, urgent: 0.6 }
callOut:
  quietHours: [ "23:00", "06:30" ] # we sleep late
`;

let folder: string;
let path: string;
let port: RigFilePort;
beforeEach(async () => {
  folder = await mkdtemp(join(tmpdir(), 'dawnhold-edit-'));
  path = join(folder, 'rig.yaml');
  await writeFile(path, TEXT);
  port = await openRigFile(path, () => {});
});
afterEach(async () => {
  await port.close();
  await chmod(folder, 0o700);
  await rm(folder, { recursive: true, force: true });
});

/** The command as a screen sends it: through its schema. */
const edit = (change: object, hash = port.current().hash, to: EditPort = port) => {
  const command = Command.parse({ kind: 'edit-alarms', id: crypto.randomUUID(), expiresMs: 1, hash, change });
  if (command.kind !== 'edit-alarms') throw new TypeError('another command');
  return editAlarms(command, to);
};
const text = () => readFile(path, 'utf8');
const HOT = { id: 'cabin-hot', priority: 'high', when: { watch: 'cabin.temperature', above: 30 }, onDelay: 300 };

describe('an edit of a rule', () => {
  test('touches only what becomes another, so that the rest stays as it was written', async () => {
    expect(await edit({ what: 'rule', entry: { ...HOT, priority: 'critical' } })).toBe('');
    expect(await text()).toBe(TEXT.replace('priority: high', 'priority: critical'));
    expect(port.current().file.alarms[0]?.priority).toBe('critical');
  });

  test('that changes nothing leaves the file alone', async () => {
    expect(await edit({ what: 'rule', entry: HOT })).toBe('');
    expect(await text()).toBe(TEXT);
  });

  test('writes durations as a person would, and drops what is left out', async () => {
    const { onDelay, ...rest } = HOT;
    expect(onDelay).toBe(300);
    expect(await edit({ what: 'rule', entry: { ...rest, offDelay: 5400, when: { watch: 'cabin.temperature', rising: 3, within: 600 } } })).toBe('');
    expect(await text()).toContain('offDelay: 90 min');
    expect(await text()).toContain('within: 10 min');
    expect(await text()).not.toContain('onDelay');
    expect(port.current().file.alarms[0]).toMatchObject({ offDelay: 5400, when: { rising: 3, within: 600 } });
  });

  test('adds one that is new at the end', async () => {
    expect(await edit({ what: 'rule', entry: { id: 'cabin-cold', outOfService: true } })).toBe('');
    expect(port.current().file.alarms.map(({ id }) => id)).toEqual(['cabin-hot', 'low-point', 'cabin-cold']);
    for (const comment of ['# the dog', '# not more', '# as long as a door stands open', '# the night', '# we sleep late'])
      expect(await text()).toContain(comment);
  });

  test('takes one out, and says what to do where there is none', async () => {
    expect(await edit({ what: 'drop-rule', ruleId: 'cabin-hot' })).toBe('');
    expect(port.current().file.alarms.map(({ id }) => id)).toEqual(['low-point']);
    expect(await edit({ what: 'drop-rule', ruleId: 'cabin-hot' })).toBe('it is as built in already; to be rid of it, take it out of service');
    expect(await edit({ what: 'drop-rule', ruleId: 'no-such' })).toBe('the rig file has no such rule any more; look again');
  });
});

describe('an edit of who is told', () => {
  test('keeps what is not another, comments too', async () => {
    const { callOut } = port.current().file;
    const wanted = { ...callOut, high: { ...callOut.high, first: ['phones'] }, repeatEvery: 600 };
    expect(await edit({ what: 'call-out', callOut: wanted })).toBe('');
    expect(port.current().file.callOut).toEqual(wanted);
    expect(await text()).toContain('# we sleep late');
    expect(await text()).toContain('repeatEvery: 10 min');
    expect(await text()).not.toContain('medium');
  });

  test('may turn a briefing off', async () => {
    expect(await edit({ what: 'briefings', briefings: { ...port.current().file.briefings, bedtime: null } })).toBe('');
    expect(port.current().file.briefings).toEqual({ bedtime: null, morning: true, routes: ['phones'] });
  });
});

describe('an edit is refused, and nothing changed,', () => {
  afterEach(async () => expect(await text().catch(() => '')).not.toContain('critical'));
  const loud = { what: 'rule', entry: { ...HOT, priority: 'critical' } };

  test('when the file changed meanwhile', async () => {
    const { hash } = port.current();
    await writeFile(path, `${TEXT}# more\n`);
    expect(await edit(loud, hash)).toBe('the rig file changed meanwhile; look again, and repeat the edit if it still fits');
  });

  test('when what is on disk does not fit', async () => {
    await writeFile(path, TEXT.replace('cells: 8', 'cels: 8'));
    while (port.current().fault === null) await new Promise((resolve) => setTimeout(resolve, 10));
    expect(await edit(loud)).toMatch(/^the rig file as it is now is not in force and must be mended by hand first: .*cels/s);
  });

  test('when the file has gone', async () => {
    await rm(path);
    expect(await edit(loud)).toBe('the rig file cannot be read; see that it is in its place, then repeat the edit');
  });

  test('when it cannot be written, without telling where it lies', async () => {
    const full: EditPort = { ...port, edit: async () => Promise.reject(Object.assign(new Error(`no room in ${folder}`), { code: 'ENOSPC' })) };
    const refusal = await edit(loud, port.current().hash, full);
    expect(refusal).toContain('(ENOSPC)');
    expect(refusal).not.toContain(folder);
  });

  test('when the outcome does not fit, with the key within the rule and what to do', async () => {
    const wrong = { ...HOT, priority: 'loud' } as never;
    const refusal = await editAlarms({ hash: port.current().hash, change: { what: 'rule', entry: wrong } }, port);
    expect(refusal).toBe('priority: got the text "loud", expected one of low, medium, high, critical; did you mean "low"?');
  });

  test('but a fault of ours is not dressed up as one', async () => {
    const broken: EditPort = { ...port, edit: async () => Promise.reject(new TypeError('ours')) };
    await expect(edit(loud, port.current().hash, broken)).rejects.toThrow('ours');
  });
});
