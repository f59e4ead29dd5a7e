import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { gunzipSync } from 'node:zlib';
import { createCopier } from '../../../../collector/store/copy/copier.ts';
import { lineOf } from '../../../../collector/store/copy/lines.ts';
import { type Outbox, openOutbox } from '../../../../collector/store/copy/outbox.ts';
import { openCopyServer } from '../../../../collector/store/copy/server.ts';
import { turnedClock } from '../../../../deploy/bench/turned-clock.ts';
import { CopyTo } from '../../../../shared/schema/copy-to.ts';
import { START_MS } from '../../../contract/readings.ts';
import type { Request } from '../../../helpers/http-server.ts';

export const NO_SECRETS = { token: null, user: null, password: null };

/** No parcel. */
export const NONE: ReadonlySet<number> = new Set();

/** Lines of a request, unpacked. */
export const linesOf = ({ headers, body }: Request): string[] =>
  (headers['content-encoding'] === 'gzip' ? gunzipSync(body) : body).toString('utf8').split('\n');

/** Lines of a signal, a second apart, with their second as value. */
export const seconds = (from: number, count: number, signal = 'bank.voltage'): string[] =>
  Array.from({ length: count }, (_, at) => lineOf('heron', signal, START_MS + (from + at) * 1000, from + at, 0));

/** A copier with a clock that a test turns, over a real outbox and a real connection. */
export async function copyBench(url: string, options: { perSecond?: number; requestLimitMs?: number; keepAfterMs?: number } = {}) {
  const folder = await mkdtemp(join(tmpdir(), 'dawnhold-copy-'));
  const path = join(folder, 'copy.sqlite');
  const server = openCopyServer({ target: CopyTo.parse({ kind: 'line-protocol', url }), secrets: NO_SECRETS }, options.requestLimitMs ?? 30_000);
  const { clock, turn } = turnedClock();
  const open = () => {
    const outbox: Outbox = openOutbox(path, 50_000_000);
    return { outbox, copier: createCopier({ outbox, server, clock, keepAfterMs: options.keepAfterMs ?? 5000, perSecond: options.perSecond ?? 2000 }) };
  };
  let now = open();
  return {
    path,
    get copier() {
      return now.copier;
    },
    get outbox() {
      return now.outbox;
    },
    turn,
    restart() {
      void now.copier.close();
      now.outbox.close();
      now = open();
    },
    async remove() {
      void now.copier.close();
      server.close();
      now.outbox.close();
      await rm(folder, { recursive: true });
    },
  };
}
