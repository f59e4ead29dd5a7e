import type { AddressInfo } from 'node:net';
import { SMTPServer, type SMTPServerOptions } from 'smtp-server';

/** A mail as it came in. */
export interface Mail {
  readonly from: string;
  readonly to: readonly string[];
  readonly user: string | null;
  readonly secure: boolean;
  readonly text: string;
}

/** A real SMTP server on a free port of loopback. */
export interface MailServer {
  readonly port: number;
  readonly mails: Mail[];
  close(): Promise<void>;
}

/** The user name and password that it takes. */
export const MAIL_LOGIN = { user: 'rig', password: 'hunter2 über' };

export async function openMailServer(options: SMTPServerOptions = {}): Promise<MailServer> {
  const mails: Mail[] = [];
  const server = new SMTPServer({
    authOptional: true,
    onAuth: ({ username, password }, _, done) =>
      username === MAIL_LOGIN.user && password === MAIL_LOGIN.password ? done(null, { user: username }) : done(new Error('no such user')),
    onData(stream, session, done) {
      let text = '';
      stream.on('data', (chunk) => {
        text += chunk;
      });
      stream.on('end', () => {
        const { mailFrom, rcptTo } = session.envelope;
        mails.push({
          from: mailFrom ? mailFrom.address : '',
          to: rcptTo.map(({ address }) => address),
          user: (session.user as string | undefined) ?? null,
          secure: session.secure,
          text,
        });
        done();
      });
    },
    closeTimeout: 10,
    ...options,
  });
  server.on('error', () => undefined);
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', () => resolve()));
  return { port: (server.server.address() as AddressInfo).port, mails, close: () => new Promise((resolve) => server.close(() => resolve())) };
}
