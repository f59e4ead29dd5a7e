import { addressOn, authorization, type CopyServerAt } from './target.ts';

/** What a server says of itself in its metrics; null: it does not say. */
export interface ServerFacts {
  /** Values that it has left out since it started, because their time is outside of what it keeps or their line could not be read, from anybody. */
  readonly ignored: number | null;
  /** Values of one time count once there; null: not told. */
  readonly deduplicates: boolean | null;
}

const LIMIT_MS = 10_000;
const MOST_BYTES = 4_000_000;

/** Reads a server's metrics. Rejects when they cannot be had. */
export async function readServerFacts({ target, secrets }: CopyServerAt): Promise<ServerFacts> {
  const answer = await fetch(addressOn(target, 'metrics'), {
    headers: authorization(secrets),
    signal: AbortSignal.timeout(LIMIT_MS),
    redirect: 'error',
  });
  if (!answer.ok) throw new Error(`the server answers ${answer.status}`);
  return factsIn((await answer.text()).slice(0, MOST_BYTES));
}

/** @source Prometheus text exposition format 0.0.4: one `name{labels} value` a line */
export function factsIn(metrics: string): ServerFacts {
  let ignored: number | null = null;
  let deduplicates: boolean | null = null;
  for (const line of metrics.split('\n')) {
    if (/^vm_rows_ignored_total\b/.test(line) || line.startsWith('vm_rows_invalid_total{type="influx"}')) {
      ignored = (ignored ?? 0) + Number(line.slice(line.lastIndexOf(' ')));
    }
    const flag = /^flag\{name="dedup\.minScrapeInterval", value="([^"]*)"/.exec(line);
    if (flag) deduplicates = !/^0(ms|s|m|h)?$/.test(flag[1] as string);
  }
  return { ignored, deduplicates };
}

/** Remarks on a server: what it has ignored since it was first asked, and what is not set there. */
export interface ServerWatch {
  remarks(): readonly string[];
  /** Asks it, at most every so often. */
  look(): void;
}

const LOOK_EVERY_MS = 300_000;

export function watchServer(server: CopyServerAt, monoMs: () => number, read: (server: CopyServerAt) => Promise<ServerFacts> = readServerFacts): ServerWatch {
  let atFirst: number | null = null;
  let facts: ServerFacts | null = null;
  let lookedMono = Number.NEGATIVE_INFINITY;

  async function ask(): Promise<void> {
    const found = await read(server).catch(() => null);
    if (found === null) return;
    // A server that was started anew counts from nought.
    if (found.ignored !== null && (atFirst === null || found.ignored < atFirst)) atFirst = atFirst === null ? found.ignored : 0;
    facts = found;
  }

  return {
    look() {
      if (server.target.kind !== 'line-protocol' || monoMs() - lookedMono < LOOK_EVERY_MS) return;
      lookedMono = monoMs();
      void ask();
    },
    remarks() {
      if (facts === null) return [];
      const ignored = (facts.ignored ?? 0) - (atFirst ?? 0);
      return [
        ...(ignored > 0
          ? [
              `The server has ignored ${ignored} values since this was started, from here or from others: their times lie outside of what it keeps, or a line was bad.`,
            ]
          : []),
        ...(facts.deduplicates === false
          ? ['The server keeps a value twice that is sent twice, as happens after a lost connection: set its deduplication to 1 ms.']
          : []),
      ];
    },
  };
}
