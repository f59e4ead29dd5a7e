import type { Server as NetServer } from 'node:net';
import type { Server as TlsServer } from 'node:tls';
import { reasonOf } from '../../shared/errors.ts';
import type { EpochMs } from '../../shared/units.ts';
import { type Certificate, type CertificateFiles, readCertificate, timeFault } from './certificate.ts';

/** The files are looked at this often: whoever renews them may put others in their place by any means, ms. */
const LOOK_EVERY_MS = 60_000;
const DAY_MS = 86_400_000;

interface Follow {
  readonly files: CertificateFiles;
  /** What is served now. */
  readonly first: Certificate;
  /** Puts another one in force for connections to come. */
  serve(certificate: Certificate): void;
  nowMs(): EpochMs;
  readonly log: { info(what: string): void; warn(what: string): void };
}

/**
 * Follows a certificate on disk. `look` takes over a renewed pair; one that does not fit, such as in the middle of being written, leaves the last good one in force and is
 * said once. What its time gives reason to say is said at the start, with each new one, and once a day.
 */
export function certificateFollower({ files, first, serve, nowMs, log }: Follow): { look(): void } {
  let current = first;
  let saidFault = '';
  let saidTimeMs = Number.NEGATIVE_INFINITY;

  const sayTime = (isNew: boolean) => {
    if (!isNew && Math.abs(nowMs() - saidTimeMs) < DAY_MS) return;
    saidTimeMs = nowMs();
    const fault = timeFault(current, nowMs());
    if (fault !== '') log.warn(fault);
  };
  const take = () => {
    const found = readCertificate(files);
    saidFault = '';
    if (found.cert === current.cert && found.key === current.key) return;
    current = found;
    serve(found);
    log.info(`a new certificate is served, good until ${new Date(found.untilMs).toISOString().slice(0, 10)}`);
    sayTime(true);
  };
  sayTime(true);

  return {
    look() {
      try {
        take();
      } catch (error) {
        if (reasonOf(error) !== saidFault) log.warn(`the certificate before is served on: ${reasonOf(error)}`);
        saidFault = reasonOf(error);
      }
      sayTime(false);
    },
  };
}

/** Puts a certificate in force on a server under TLS, for connections to come. */
export const servedBy =
  (server: NetServer) =>
  ({ cert, key }: Certificate): void =>
    (server as TlsServer).setSecureContext({ cert, key });

/** Follows the certificate of a server under TLS until the returned function is called. */
export function followCertificate({ files, first, server, log }: Pick<Follow, 'files' | 'first' | 'log'> & { readonly server: NetServer }): () => void {
  const { look } = certificateFollower({ files, first, serve: servedBy(server), nowMs: () => Date.now(), log });
  const timer = setInterval(look, LOOK_EVERY_MS);
  return () => clearInterval(timer);
}
