import { readFile } from 'node:fs/promises';
import { describe, expect, it } from 'vitest';
import { loadRigFile, parseRigFile } from '../../../collector/config/load.ts';
import { rigFileReference } from '../../../collector/config/reference.ts';
import { SIGNALS } from '../../../shared/signals.ts';

describe('the reference of the rig file', () => {
  it('is up to date (vitest -u writes it anew)', async () => {
    await expect(rigFileReference()).toMatchFileSnapshot('../../../deploy/rig-file.md');
  });

  it('describes every key, with its unit where it is a number', () => {
    const rows = rigFileReference()
      .split('\n')
      .filter((line) => /^\| `/.test(line));
    expect(rows.filter((row) => /\|\s*\|\s*$/.test(row))).toEqual([]);
    expect(rows.length).toBeGreaterThan(SIGNALS.size + 50);
  });
});

describe('the example', () => {
  const path = new URL('../../../deploy/rig.example.yaml', import.meta.url).pathname;
  it('fits the schema', async () => {
    const { file } = await loadRigFile(path);
    expect(file.rig.id).toBe('heron');
    expect(file.minisplit?.setpoint).toBeCloseTo(23.889, 3);
    expect(file.signals.specs.get('panels.power')?.sum).toHaveLength(2);
  });

  it('shows every section of the file', async () => {
    const text = await readFile(path, 'utf8');
    const sections = [...rigFileReference().matchAll(/^## `(\w+)`/gm)].map(([, name]) => name);
    expect(sections.filter((name) => !new RegExp(`^${name}:`, 'm').test(text))).toEqual([]);
    expect(parseRigFile(text, 'rig.yaml').signals.forecast?.topic).toBe('heron/forecast');
  });
});
