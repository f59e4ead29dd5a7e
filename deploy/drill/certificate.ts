import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

/** A certificate for some names, made by openssl for one test or drill, with its key; it is its own authority. */
export interface Certificate {
  readonly key: string;
  readonly cert: string;
}

/** @param names as openssl writes them: `DNS:localhost,IP:127.0.0.1`. */
export function makeCertificate(names = 'DNS:localhost,IP:127.0.0.1'): Certificate {
  const folder = mkdtempSync(join(tmpdir(), 'dawnhold-certificate-'));
  const [key, cert] = [join(folder, 'key.pem'), join(folder, 'cert.pem')];
  const made = ['req', '-x509', '-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:prime256v1', '-nodes', '-days', '2', '-keyout', key, '-out', cert];
  execFileSync('/usr/bin/openssl', [...made, '-subj', '/CN=drill', '-addext', `subjectAltName=${names}`], { stdio: 'ignore' });
  const text = { key: readFileSync(key, 'utf8'), cert: readFileSync(cert, 'utf8') };
  rmSync(folder, { recursive: true });
  return text;
}
