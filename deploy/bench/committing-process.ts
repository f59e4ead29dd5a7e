import { createSqliteStore } from '../../collector/store/sqlite.ts';
import { batchReadings } from './numbered-batches.ts';

/** A process of its own that appends batch after batch, from the number given on, and writes each number once its batch is kept. */
const [path = '', from = '0'] = process.argv.slice(2);
const store = createSqliteStore({ path, log: { warn: (_, message) => process.stderr.write(`${message}\n`) } });
await store.open();
for (let number = Number(from); ; number += 1) {
  await store.append(batchReadings(number));
  await store.put([{ kind: 'state', id: 'newest', tMs: number, body: String(number) }]);
  process.stdout.write(`${number}\n`);
}
