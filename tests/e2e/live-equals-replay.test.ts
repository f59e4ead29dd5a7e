import { join } from 'node:path';
import { expect, test } from 'vitest';
import { loadRigFile } from '../../collector/config/load.ts';
import { createSqliteStore } from '../../collector/store/sqlite.ts';
import { startBuilt, temporaryFolder, until } from '../../deploy/bars/processes.ts';
import { replay } from '../../deploy/replay.ts';
import { STORE_FILE } from '../../deploy/start/data-folder.ts';
import { BIN_MS } from '../../engine/types.ts';
import { ROOT } from '../helpers/source-files.ts';

const RIG = join(ROOT, 'tests/fixtures/rigs/ridge.yaml');
const RECORDING = join(ROOT, 'tests/fixtures/recordings/ridge-two-hours.jsonl.gz');

test('two hours of messages give the same projections live, with jobs in their thread, as in a replay', async () => {
  const { file } = await loadRigFile(RIG);
  const lines: string[] = [];
  await replay({
    file,
    recording: RECORDING,
    write: (line) => lines.push(line),
    onBadLine: (_, why) => expect.fail(why),
    onFault: (what) => expect.fail(what),
  });
  const replayed = lines.filter((line) => JSON.parse(line).kind === 'projection');
  expect(replayed.length).toBeGreaterThanOrEqual(11);

  const folder = await temporaryFolder();
  try {
    const program = await startBuilt(['--rig', RIG, '--recording', RECORDING, '--pace', '600', '--data', folder.path], ROOT);
    await until(() => program.said().includes('the recording has ended'), 'the end of the recording', program.said);
    await program.end();
    const store = createSqliteStore({ path: join(folder.path, STORE_FILE), log: { warn: (_details, message) => expect.fail(message) } });
    await store.open();
    const kept = await store.list('projection', 0, Number.MAX_SAFE_INTEGER);
    await store.close();
    const lastMs = JSON.parse(replayed.at(-1) ?? '{}').tMs;
    // A live rig says more in its first minutes than the marks that a replay writes.
    expect(kept.filter(({ tMs }) => tMs <= lastMs && tMs % BIN_MS === 0).map(({ body }) => body)).toEqual(replayed);
  } finally {
    await folder.remove();
  }
});
