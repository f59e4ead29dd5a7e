import { createRequire } from 'node:module';
import { pathToFileURL } from 'node:url';
import { Worker } from 'node:worker_threads';

/** What is new in a thread is looked through in bites of so many MB: left alone, each thread comes to hold some tens of them for garbage. */
const LIMITS = { maxYoungGenerationSizeMb: 6 };

/**
 * Starts a worker thread from a module given without its ending, relative to `fromUrl` (the caller's import.meta.url).
 * The ending is the caller's own, so that it works compiled and, through tsx, from the sources.
 */
export function startThread(module: string, fromUrl: string, workerData: unknown): Worker {
  const fromSource = fromUrl.endsWith('.ts');
  const file = new URL(`${module}${fromSource ? '.ts' : '.js'}`, fromUrl);
  if (!fromSource) return new Worker(file, { workerData, resourceLimits: LIMITS });
  // A loader that the command line names does not reach a worker on Node 20: the thread registers it itself.
  const loader = pathToFileURL(
    createRequire(fromUrl)
      .resolve('tsx/esm/api')
      .replace(/\.cjs$/, '.mjs'),
  ).href;
  const code = `import(${JSON.stringify(loader)}).then(({ register }) => { register(); return import(${JSON.stringify(file.href)}); })`;
  return new Worker(code, { eval: true, workerData, execArgv: [], resourceLimits: LIMITS });
}
