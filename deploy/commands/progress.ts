const WIDTH = 40;
const EVERY_MS = 100;

/** Draws how far something is on a terminal; says nothing where standard error is no terminal. */
export interface Progress {
  /** `share` from 0 to 1. */
  show(share: number): void;
  end(): void;
}

export function createProgress(label: string, out: NodeJS.WriteStream = process.stderr): Progress {
  let drawnMs = Number.NEGATIVE_INFINITY;
  if (!out.isTTY) return { show: () => {}, end: () => {} };
  return {
    show(share) {
      const nowMs = performance.now();
      if (nowMs - drawnMs < EVERY_MS) return;
      drawnMs = nowMs;
      const full = Math.round(Math.min(1, Math.max(0, share)) * WIDTH);
      out.write(`\r${label} [${'#'.repeat(full)}${'.'.repeat(WIDTH - full)}] ${Math.round(share * 100)} %`);
    },
    end: () => out.write('\r\x1b[K'),
  };
}
