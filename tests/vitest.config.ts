import { existsSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vitest/config';

const root = fileURLToPath(new URL('..', import.meta.url));
/** Recordings with their truth lie beside a developer's clone; tests that need them are left out elsewhere. */
const withReference = existsSync(new URL('../../shared/recordings', import.meta.url));
const never = ['**/node_modules/**', '**/dist/**', ...(withReference ? [] : ['tests/reference/**'])];
/** Real brokers, browsers and processes, and months of measured data: generous, since a small machine is slow. */
const limits = { testTimeout: 300_000, hookTimeout: 300_000 };
/** What every test file starts with. */
const setupFiles = ['tests/helpers/same-draws.ts'];

export default defineConfig({
  root,
  test: {
    maxWorkers: 2,
    projects: [
      {
        root,
        test: { name: 'node', include: ['tests/**/*.test.ts'], exclude: [...never, 'tests/dashboard/web/**', 'tests/e2e/**'], setupFiles, ...limits },
      },
      {
        root,
        plugins: [svelte({ configFile: false })],
        resolve: { conditions: ['browser'] },
        test: { name: 'web', include: ['tests/dashboard/web/**/*.test.ts'], exclude: never, setupFiles, ...limits },
      },
      {
        root,
        test: {
          name: 'e2e',
          include: ['tests/e2e/**/*.test.ts'],
          exclude: never,
          fileParallelism: false,
          sequence: { groupOrder: 1 },
          ...limits,
        },
      },
    ],
  },
});
