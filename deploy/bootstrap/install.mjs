import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { hasProgram, NOT_FOUND, run } from './run.mjs';

/** Installs the packages of the lockfile unless they are there already, and makes sure that SQLite loads. Ends the process with words when it cannot. */
export async function install() {
  if (!isInstalled()) {
    const started = performance.now();
    // Some versions of npm write their spinner frame by frame into a pipe.
    const quiet = process.stdout.isTTY && process.stderr.isTTY ? [] : ['--no-progress'];
    console.log('Installing packages (once; a few minutes where SQLite must be compiled) ...');
    const code = await run('npm', ['ci', '--include=dev', '--no-audit', '--no-fund', ...quiet]);
    if (code === NOT_FOUND) give('npm is missing: it comes with Node, on Debian as the package npm.');
    if (code !== 0) give('npm could not install the packages; what it said stands above. This first start needs the internet once.');
    console.log(`Installed in ${Math.round((performance.now() - started) / 1000)} s.`);
  }
  if (sqliteFault() === null) return;
  console.log('SQLite does not load with this Node; building it again ...');
  await run('npm', ['rebuild', 'better-sqlite3']);
  const fault = sqliteFault();
  if (fault !== null) give(`SQLite does not load: ${fault}`);
}

/** True when npm's own record of what lies in node_modules agrees with the lockfile; packages for other machines may be missing. */
function isInstalled() {
  try {
    const wanted = JSON.parse(readFileSync('package-lock.json', 'utf8')).packages;
    const present = JSON.parse(readFileSync('node_modules/.package-lock.json', 'utf8')).packages;
    return Object.entries(wanted).every(([path, { version, optional }]) => path === '' || (present[path] ? present[path].version === version : optional));
  } catch {
    return false;
  }
}

/** Null when an in-memory database opens, else why not. Loading happens in this process; a failed load leaves nothing behind. */
function sqliteFault() {
  try {
    const Database = createRequire(import.meta.url)('better-sqlite3');
    new Database(':memory:').close();
    return null;
  } catch (error) {
    return error.message.split('\n')[0];
  }
}

/** Ends with a reason, and with the build tools that are missing where SQLite must be compiled. */
function give(reason) {
  console.error(reason);
  const missing = ['python3', 'make', 'g++'].filter((name) => !hasProgram(name));
  if (missing.length > 0) {
    console.error(
      `Where no SQLite binary fits this machine, it is compiled: that needs python3, make and a C++ compiler. Missing here: ${missing.join(', ')}.`,
    );
    console.error('On Debian: apt-get install python3 make g++');
  }
  process.exit(1);
}
