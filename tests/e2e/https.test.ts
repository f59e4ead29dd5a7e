import { createHash, X509Certificate } from 'node:crypto';
import { readFile, writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { chromium } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { type Running, run, startBuilt, temporaryFolder, until } from '../../deploy/bars/processes.ts';
import { ownCertificate } from '../helpers/own-certificate.ts';
import { ROOT } from '../helpers/source-files.ts';

const RIG = `
rig: { id: vale, name: Vale }
bank: { cells: 8, capacityAh: 280 }
broker: { port: 0 }
signals:
  bank.voltage: { topic: v }
  bank.current: { topic: a }
`;

let folder: Awaited<ReturnType<typeof temporaryFolder>>;
let files: Awaited<ReturnType<typeof ownCertificate>>;
let program: (Running & { url: string }) | null = null;
const rigArgs = () => ['--rig', join(folder.path, 'rig.yaml'), '--data', join(folder.path, 'data')];

beforeAll(async () => {
  folder = await temporaryFolder();
  files = await ownCertificate(folder.path);
  await writeFile(join(folder.path, 'rig.yaml'), RIG);
});
afterAll(async () => {
  await program?.end();
  await folder?.remove();
});

test('a certificate that cannot be served ends the start with what is wrong and what to do', async () => {
  const start = async (...tls: string[]) => {
    const failed = run(process.execPath, ['dist/deploy/main.js', 'start', '--port', '0', ...rigArgs(), ...tls], { cwd: ROOT });
    await until(() => failed.child.exitCode !== null, 'the end of it', failed.said);
    return [failed.child.exitCode, failed.said().trim()];
  };
  expect(await start('--cert', files.cert)).toEqual([1, '--cert and --key belong together: give both, or neither']);
  expect(await start('--cert', files.cert, '--key', join(folder.path, 'authority.key'))).toEqual([
    1,
    expect.stringContaining('is not that of the certificate'),
  ]);
  expect(await start('--cert', join(folder.path, 'none.crt'), '--key', files.key)).toEqual([1, expect.stringContaining('the certificate cannot be read')]);
});

test('under a name of its own, by https, the page may have a worker and push, and is live', async () => {
  const rig = await startBuilt([...rigArgs(), '--cert', files.cert, '--key', files.key], ROOT);
  program = rig;
  const key = new X509Certificate(await readFile(files.cert)).publicKey.export({ type: 'spki', format: 'der' });
  // The browser trusts this key, as it would once the authority is installed.
  const trusted = createHash('sha256').update(key).digest('base64');
  const browser = await chromium.launch({
    executablePath: '/usr/bin/chromium',
    args: ['--headless', '--no-sandbox', '--disable-gpu', '--host-resolver-rules=MAP rig.test 127.0.0.1', `--ignore-certificate-errors-spki-list=${trusted}`],
  });
  try {
    const page = await browser.newPage();
    const faults: string[] = [];
    page.on('pageerror', (error) => faults.push(error.message));
    page.on('console', (message) => message.type() === 'error' && faults.push(message.text()));
    const url = `https://rig.test:${new URL(rig.url).port}/`;
    await page.goto(url);
    await page.locator('header strong', { hasText: 'Vale' }).waitFor();
    const facts = 'navigator.serviceWorker.ready.then(({ scope, pushManager }) => [isSecureContext, scope, typeof pushManager.subscribe])';
    expect(await page.evaluate(facts)).toEqual([true, url, 'function']);
    expect(faults).toEqual([]);
  } finally {
    await browser.close();
  }
});
