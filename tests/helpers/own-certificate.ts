import { execFile } from 'node:child_process';
import { readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { ROOT } from './source-files.ts';

const run = promisify(execFile);

/** Makes an authority and a certificate for localhost by the very lines that deploy/phone.md gives people. */
export async function ownCertificate(folder: string): Promise<{ cert: string; key: string; authority: string }> {
  const page = await readFile(join(ROOT, 'deploy/phone.md'), 'utf8');
  const lines = /```sh\n([\s\S]*?)```/.exec(page)?.[1] ?? '';
  await run('sh', ['-euc', lines.replace('DNS:rig.local,IP:192.168.1.20', 'DNS:localhost,DNS:rig.test,IP:127.0.0.1')], { cwd: folder });
  return { cert: join(folder, 'rig.crt'), key: join(folder, 'rig.key'), authority: join(folder, 'authority.crt') };
}

/** Another certificate of the same authority, good for so many days from now. */
export async function renewCertificate(folder: string, days: number): Promise<void> {
  await run(
    'openssl',
    ['x509', '-req', '-in', 'rig.csr', '-CA', 'authority.crt', '-CAkey', 'authority.key', '-days', String(days), '-extfile', 'rig.ext', '-out', 'rig.crt'],
    { cwd: folder },
  );
}
