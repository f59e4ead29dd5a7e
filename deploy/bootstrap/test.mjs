import { existsSync, mkdirSync, readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { hasProgram, run } from './run.mjs';

/** Programs that some tests talk to, by their Debian packages. */
const PROGRAMS = [
  { name: 'mosquitto', at: ['/usr/sbin/mosquitto'], used: /mosquitto|RealBroker/i },
  { name: 'victoria-metrics', at: ['/usr/bin/victoria-metrics'], used: /Victoria/ },
  { name: 'chromium', at: ['/usr/bin/chromium'], used: /chromium/i },
  { name: 'openssl', at: ['/usr/bin/openssl'], used: /openssl|makeCertificate|ownCertificate/i },
];
export const REPORT = 'dist/test-report.json';

/** Runs every test; `args` go to the runner. Resolves with the exit code. */
export async function test(args) {
  await fetchPrograms();
  const missing = PROGRAMS.filter(({ at }) => !at.some(existsSync));
  const skipped = missing.flatMap(({ name, used }) => {
    const files = testFiles('tests').filter((file) => used.test(readFileSync(file, 'utf8')));
    console.log(`Skipped, since ${name} is not installed: ${files.join(', ') || 'nothing'}`);
    return files;
  });
  if (!existsSync('../shared/recordings')) console.log('Skipped: tests/reference, since there are no recordings with their truth in ../shared.');
  mkdirSync('dist', { recursive: true });
  const vitest = ['node_modules/vitest/vitest.mjs', 'run', '--config', 'tests/vitest.config.ts'];
  const reporters = ['--reporter=default', '--reporter=json', `--outputFile.json=${REPORT}`];
  return run(process.execPath, [...vitest, ...reporters, ...skipped.map((file) => `--exclude=${file}`), ...args]);
}

/** On Debian as root, installs what is missing. */
async function fetchPrograms() {
  const missing = PROGRAMS.filter(({ at }) => !at.some(existsSync)).map(({ name }) => name);
  if (missing.length === 0 || process.getuid?.() !== 0 || !existsSync('/etc/debian_version') || !hasProgram('apt-get')) return;
  console.log(`Installing ${missing.join(', ')} for the tests ...`);
  const env = { ...process.env, DEBIAN_FRONTEND: 'noninteractive' };
  await run('apt-get', ['update', '-qq'], { env });
  await run('apt-get', ['install', '-y', '-qq', '--no-install-recommends', ...missing], { env });
}

const testFiles = (folder) =>
  readdirSync(folder, { recursive: true, encoding: 'utf8' })
    .filter((name) => name.endsWith('.test.ts'))
    .map((name) => join(folder, name));
