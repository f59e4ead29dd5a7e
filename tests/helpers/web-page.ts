import { execFile } from 'node:child_process';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { promisify } from 'node:util';
import { type Browser, chromium } from 'playwright-core';

const root = fileURLToPath(new URL('../..', import.meta.url));
const CHROMIUM_ARGS = [
  '--headless',
  '--no-sandbox',
  '--disable-gpu',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
];

/** Builds the screens into `webRoot`, by a process of its own as for people: the test runner's environment would build the development version. */
export async function buildScreens(webRoot: string): Promise<void> {
  const config = join(root, 'dashboard/web/vite.config.ts');
  const vite = [join(root, 'node_modules/vite/bin/vite.js'), 'build', '--config', config, '--outDir', webRoot, '--logLevel', 'error'];
  await promisify(execFile)(process.execPath, vite, { env: { ...process.env, NODE_ENV: 'production' } });
}

/** A real browser without a window; the caller closes it. */
export const launchBrowser = (): Promise<Browser> => chromium.launch({ executablePath: '/usr/bin/chromium', args: CHROMIUM_ARGS });
