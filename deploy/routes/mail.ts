import { lookup } from 'node:dns';
import { readFile } from 'node:fs/promises';
import type { Socket } from 'node:net';
import { createTransport } from 'nodemailer';
import type { Sender, SendResult } from '../../shared/ports.ts';
import type { Notice } from '../../shared/schema/notice.ts';
import type { Route } from '../../shared/schema/routes.ts';
import type { Credentials } from '../environment.ts';
import { type AddressGuard, AddressRefused, isPublic } from './address-guard.ts';
import { dial } from './dial.ts';
import { messageIds, subjectOf, textOf } from './mail-text.ts';
import { attempt, later, never, sent } from './outcome.ts';

/** One attempt, and within it each wait for the server, ms. */
const LIMIT_MS = 20_000;
const WAIT_MS = 10_000;

type MailRoute = Extract<Route, { kind: 'mail' }>;

export interface MailOptions {
  readonly route: MailRoute;
  /** Null: the server asks for none. */
  readonly credentials: Credentials | null;
  /** Certificate authority, a file; null: those that the system trusts. Read at each attempt, so that a renewed one counts. */
  readonly caPath: string | null;
  readonly limitMs?: number;
  readonly waitMs?: number;
}

/** The owner names the mail server, so it may be anywhere; without encryption only on this box or its network. */
export const mailGuard = (security: MailRoute['security']): AddressGuard => ({
  checkUrl: () => undefined,
  lookup,
  checkConnected(host, address) {
    if (security === 'none' && (address === undefined || isPublic(address)))
      throw new AddressRefused(`${host} is on the internet: mail goes there only encrypted, by security tls or starttls`, true);
  },
});

/** A server's refusal in words, by its reply code and the step it answers. @source RFC 5321 (2008), section 4.2.1. */
function refusal(error: unknown, host: string): SendResult {
  const { code, responseCode, command } = (error ?? {}) as { code?: string; responseCode?: number; command?: string };
  const passing = responseCode !== undefined && responseCode < 500;
  if (code === 'ETLS') return later(`no encrypted connection to ${host}: it offers none, or its certificate is not trusted`);
  if (code === 'EAUTH' && !passing) return never(`${host} does not take the user name and password (DAWNHOLD_MAIL_USER, DAWNHOLD_MAIL_PASSWORD)`);
  if (responseCode !== undefined) {
    const what = command === 'RCPT TO' ? 'the recipients' : command === 'MAIL FROM' ? 'the sender' : 'the mail';
    return passing ? later(`${host} does not take ${what} now (${responseCode})`) : never(`${host} refuses ${what} (${responseCode})`);
  }
  if (code === 'EENVELOPE') return never('an address of the mail is none');
  return later(`${host} did not answer in time, or broke the connection off`);
}

/** Mail by SMTP, a connection of its own for each: nothing idles, nothing is queued here. */
export function createMailSender({ route, credentials, caPath, limitMs = LIMIT_MS, waitMs = WAIT_MS }: MailOptions): Sender {
  const { server: host, port, security, from, to } = route;
  const guard = mailGuard(security);

  const transport = (connection: Socket, ca: string | undefined) =>
    createTransport({
      host,
      port,
      connection,
      secure: security === 'tls',
      secured: security === 'tls',
      requireTLS: security === 'starttls',
      ignoreTLS: security === 'none',
      name: '[127.0.0.1]',
      connectionTimeout: waitMs,
      greetingTimeout: waitMs,
      socketTimeout: waitMs,
      socketCloseTimeout: 1000,
      disableFileAccess: true,
      disableUrlAccess: true,
      ...(ca !== undefined && { tls: { ca } }),
      ...(credentials && { auth: { user: credentials.user, pass: credentials.password } }),
    });

  /** Connects and does the work; the connection ends with it, or with the signal. */
  const connected = (given: AbortSignal, work: (mailer: ReturnType<typeof transport>, signal: AbortSignal) => Promise<SendResult>): Promise<SendResult> =>
    attempt(host, limitMs, given, async (signal) => {
      const ca = caPath === null ? undefined : await readFile(caPath, 'utf8').catch(() => null);
      if (ca === null) return later(`the certificate authority ${caPath} cannot be read`);
      const socket = await dial({ host, port, tls: security === 'tls' ? { ca } : null }, guard, signal);
      const end = (): void => void socket.destroy();
      signal.addEventListener('abort', end);
      try {
        return await work(transport(socket, ca), signal);
      } catch (error) {
        if (signal.aborted) throw error;
        return refusal(error, host);
      } finally {
        signal.removeEventListener('abort', end);
        end();
      }
    });

  return {
    kind: 'mail',
    remote: true,
    targets: () => [{ id: '', name: to.join(', ').slice(0, 64) }],

    send: (notice, _, given) =>
      connected(given, async (mailer, signal) => {
        const info = await mailer.sendMail({ ...letter(notice, from), from, to, signal });
        const refused = info.rejected.length;
        return sent(`taken by ${host}${refused === 0 ? '' : `; it refused ${refused} of ${to.length} recipients`}`);
      }),

    probe: (given) =>
      connected(given, async (mailer) => {
        await mailer.verify();
        return sent(`${host} ${credentials === null ? 'answers' : 'takes the user name and password'}`);
      }),

    close: async () => undefined,
  };
}

function letter(notice: Notice, from: string) {
  const { messageId, threadId } = messageIds(notice, from.slice(from.lastIndexOf('@') + 1));
  const urgent = notice.kind === 'alarm' && (notice.priority === 'high' || notice.priority === 'critical');
  return {
    subject: subjectOf(notice),
    text: textOf(notice),
    messageId,
    references: threadId,
    priority: urgent ? ('high' as const) : ('normal' as const),
    xMailer: false as const,
    headers: { 'Auto-Submitted': 'auto-generated' },
  };
}
