import { createHash } from 'node:crypto';
import { join } from 'node:path';
import { build, type Plugin } from 'vite';

/**
 * Builds the service worker after the screens, as one plain script at the root (its reach is its folder), and tells it all files that make up the screens,
 * so that they open without the box. Another build is another list, hence another worker.
 */
export function workerBuild(root: string): Plugin {
  return {
    name: 'worker-build',
    apply: 'build',
    async writeBundle({ dir }, bundle) {
      const assets = Object.keys(bundle).filter((name) => name.startsWith('assets/') && !name.endsWith('.map'));
      const page = bundle['index.html'];
      const version = createHash('sha256')
        .update(assets.sort().join('\n'))
        .update(page?.type === 'asset' ? page.source : '');
      await build({
        configFile: false,
        root,
        publicDir: false,
        logLevel: 'warn',
        define: {
          SCREEN_FILES: JSON.stringify(['/', ...assets.map((name) => `/${name}`)]),
          SCREEN_VERSION: JSON.stringify(version.digest('hex').slice(0, 16)),
        },
        build: {
          outDir: dir ?? '',
          emptyOutDir: false,
          target: 'es2022',
          rollupOptions: { input: join(root, 'src/worker/sw.ts'), output: { format: 'iife', entryFileNames: 'sw.js' } },
        },
      });
    },
  };
}
