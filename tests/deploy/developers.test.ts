import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { ERROR_CODES } from '../../shared/errors.ts';
import { ROOT } from '../helpers/source-files.ts';

test('DEVELOPERS.md lists the error codes with what they mean, all of them and no other', () => {
  const text = readFileSync(join(ROOT, 'DEVELOPERS.md'), 'utf8');
  const rows = [...text.matchAll(/^\| `([A-Z_]+)` \| (.+) \|$/gm)].map(([, code, meaning]) => [code, meaning]);
  expect(Object.fromEntries(rows)).toEqual(ERROR_CODES);
});

test('README.md shows rig files that fit and names commands that exist', async () => {
  const { parseRigFile } = await import('../../collector/config/load.ts');
  const text = readFileSync(join(ROOT, 'README.md'), 'utf8');
  const [, yaml] = /```yaml\n([\s\S]*?)```/.exec(text) ?? [];
  expect(() => parseRigFile(yaml ?? '', 'README.md')).not.toThrow();
  const scripts = Object.keys(JSON.parse(readFileSync(join(ROOT, 'package.json'), 'utf8')).scripts);
  const named = [...text.matchAll(/npm run (\w+)/g)].map(([, name]) => name);
  expect(named.filter((name) => !scripts.includes(name ?? ''))).toEqual([]);
});
