import { existsSync } from 'node:fs';
import { join } from 'node:path';
import type { Browser, BrowserContextOptions, Page } from 'playwright-core';
import { PROJECT_ROOT } from '../../project.ts';
import type { Figure } from '../bar.ts';
import { openChromium, type Running, run, untilOpen } from '../processes.ts';

/** Kept between runs, so that the weeks before are lived through but once. */
export const DEMO_FOLDER = join(PROJECT_ROOT, '.cache/screens-demo');

/** The demo rig behind its real server, and a real browser. */
export interface Stage {
  readonly demo: Running & { readonly url: string };
  readonly browser: Browser;
}

/** Measures the screens on a stage that is taken down afterwards; says why where there is no browser. */
export async function onStage(measure: (stage: Stage) => Promise<readonly Figure[]>): Promise<readonly Figure[] | string> {
  if (!existsSync('/usr/bin/chromium')) return 'Chromium is not installed';
  const demo = await startDemo();
  const browser = await openChromium();
  try {
    return await measure({ demo, browser });
  } finally {
    await browser.close();
    await demo.end();
  }
}

/** The demo at life's own pace, built when its sources are newer. */
export async function startDemo(): Promise<Running & { url: string }> {
  const args = ['deploy/bootstrap.mjs', 'start', '--port', '0', '--data', DEMO_FOLDER];
  const program = run(process.execPath, args, { cwd: PROJECT_ROOT });
  try {
    return { ...program, url: await untilOpen(program, 'the demo') };
  } catch (error) {
    await program.end();
    throw error;
  }
}

/** Looks of the screens, held by hand. */
export const LOOKS = ['day', 'night'] as const;
export type HeldLook = (typeof LOOKS)[number];
export const TABLET = { width: 1280, height: 800 } as const;
export const PHONE = { width: 390, height: 844 } as const;

/** A page of a device of its own, with nothing kept, in a look; it has not been anywhere yet. */
export async function newDevice(browser: Browser, look: HeldLook, device: BrowserContextOptions = { viewport: TABLET }): Promise<Page> {
  const context = await browser.newContext({ serviceWorkers: 'block', ...device });
  const page = await context.newPage();
  await page.addInitScript(`localStorage.setItem('dawnhold.look', '${look}')`);
  return page;
}
