import { join } from 'node:path';
import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vite';
import { fontBuild } from './font-build.ts';
import { packBuild } from './pack-build.ts';
import { workerBuild } from './worker-build.ts';

/** Everything is its own file: the content policy of the server allows no inline script, style or data font. */
export default defineConfig({
  root: import.meta.dirname,
  plugins: [fontBuild(join(import.meta.dirname, '../../.cache/fonts')), svelte({ configFile: false }), workerBuild(import.meta.dirname), packBuild()],
  build: {
    outDir: '../../dist/web',
    emptyOutDir: true,
    target: 'es2022',
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
  },
});
