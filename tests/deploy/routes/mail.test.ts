import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { type AddressInfo, createServer, type Socket } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { SMTPServerOptions } from 'smtp-server';
import { afterAll, afterEach, describe, expect, it } from 'vitest';
import { createMailSender, type MailOptions, mailGuard } from '../../../deploy/routes/mail.ts';
import { messageIds, subjectOf, textOf } from '../../../deploy/routes/mail-text.ts';
import { until } from '../../collector/mqtt/real-broker.ts';
import { makeCertificate } from '../../helpers/certificate.ts';
import { MAIL_LOGIN, type MailServer, openMailServer } from '../../helpers/mail-server.ts';
import { notice } from '../../helpers/notice.ts';

const tls = makeCertificate();
const folder = mkdtempSync(join(tmpdir(), 'dawnhold-mail-'));
const caPath = join(folder, 'ca.pem');
writeFileSync(caPath, tls.cert);
afterAll(() => rmSync(folder, { recursive: true }));

const open = new AbortController().signal;
const closing: (() => Promise<unknown>)[] = [];
afterEach(async () => {
  for (const close of closing.splice(0)) await close();
});

type Security = MailOptions['route']['security'];
async function served(options: SMTPServerOptions, security: Security = 'none', rest: Partial<MailOptions> = {}) {
  const server: MailServer = await openMailServer({ ...tls, secure: security === 'tls', ...options });
  closing.push(server.close);
  return { server, sender: senderTo(server.port, security, rest) };
}
const senderTo = (port: number, security: Security = 'none', rest: Partial<MailOptions> = {}) =>
  createMailSender({
    route: { kind: 'mail', server: 'localhost', port, security, from: 'heron@example.org', to: ['one@example.org', 'two@example.org'] },
    credentials: null,
    caPath: security === 'none' ? null : caPath,
    ...rest,
  });
const refusing = (code: number): Error => Object.assign(new Error('hunter2 has no right to that'), { responseCode: code });

describe('a mail', () => {
  it.each(['tls', 'starttls', 'none'] as const)('goes by %s to everybody it is for, with the credentials', async (security) => {
    const { server, sender } = await served(security === 'none' ? { disabledCommands: ['STARTTLS'], allowInsecureAuth: true } : {}, security, {
      credentials: MAIL_LOGIN,
    });
    expect(await sender.send(notice(), '', open)).toEqual({ kind: 'sent', detail: 'taken by localhost' });
    expect(server.mails).toMatchObject([{ from: 'heron@example.org', to: ['one@example.org', 'two@example.org'], user: 'rig', secure: security !== 'none' }]);
    const [head = '', body = ''] = server.mails[0]?.text.split('\r\n\r\n', 1).concat(server.mails[0]?.text ?? '') ?? [];
    expect(head).toContain('Subject: High: The bank will fall below its floor (Heron)');
    expect(head).toMatch(/Message-ID: <low-point-7\.0b1c6c9e-[0-9a-f-]+@example\.org>/i);
    expect(head).toContain('References: <low-point-7@example.org>');
    expect(head).toContain('Auto-Submitted: auto-generated');
    expect(head).toContain('Importance: High');
    expect(head).not.toMatch(/mailer|hunter2/i);
    expect(body).toContain('What would help:\r\n- Raise the setpoint by 2 degrees');
    expect(body).toContain('Said by Heron at 04:10.');
  });

  it('is tried without being sent: the server, its certificate, the credentials', async () => {
    const { server, sender } = await served({}, 'tls', { credentials: MAIL_LOGIN });
    expect(await sender.probe(open)).toEqual({ kind: 'sent', detail: 'localhost takes the user name and password' });
    expect(await senderTo(server.port, 'tls', { caPath: null }).probe(open)).toMatchObject({ kind: 'later', reason: expect.stringContaining('not trusted') });
    expect(await senderTo(server.port, 'tls', { caPath: '/nowhere/ca.pem' }).probe(open)).toMatchObject({
      kind: 'later',
      reason: expect.stringContaining('/nowhere/ca.pem'),
    });
    expect(server.mails).toEqual([]);
  });

  it('goes unencrypted to a server of this box or its network only', () => {
    const refused = (security: Security, address: string): boolean => {
      try {
        mailGuard(security).checkConnected('mail.example', address);
        return false;
      } catch {
        return true;
      }
    };
    expect(['127.0.0.1', '192.168.0.9', '::1', 'fd00::1'].map((address) => refused('none', address))).toEqual([false, false, false, false]);
    expect([refused('none', '1.1.1.1'), refused('tls', '1.1.1.1'), refused('starttls', '2606:4700::1111')]).toEqual([true, false, false]);
  });

  it('does not go unencrypted where encryption is asked for, whatever the server offers', async () => {
    const { server, sender } = await served({ disabledCommands: ['STARTTLS'] }, 'starttls', { credentials: MAIL_LOGIN });
    expect(await sender.send(notice(), '', open)).toMatchObject({ kind: 'later', reason: expect.stringContaining('encrypted') });
    const untrusting = senderTo(server.port, 'starttls', { caPath: null });
    expect(await untrusting.send(notice(), '', open)).toMatchObject({ kind: 'later' });
    expect(server.mails).toEqual([]);
  });
});

describe('what a mail server says', () => {
  it.each([
    ['the password is wrong', { onAuth: (_a, _s, done) => done(refusing(535)) }, { kind: 'never', reason: expect.stringContaining('DAWNHOLD_MAIL_PASSWORD') }],
    ['it cannot check the password now', { onAuth: (_a, _s, done) => done(refusing(454)) }, { kind: 'later', reason: expect.stringContaining('454') }],
    ['the sender is refused', { onMailFrom: (_a, _s, done) => done(refusing(550)) }, { kind: 'never', reason: 'localhost refuses the sender (550)' }],
    [
      'nobody of the recipients is known',
      { onRcptTo: (_a, _s, done) => done(refusing(550)) },
      { kind: 'never', reason: expect.stringContaining('recipients') },
    ],
    ['the recipients are to be tried again', { onRcptTo: (_a, _s, done) => done(refusing(450)) }, { kind: 'later', reason: expect.stringContaining('450') }],
    [
      'the mail is refused',
      { onData: (stream, _s, done) => void stream.resume().on('end', () => done(refusing(554))) },
      { kind: 'never', reason: 'localhost refuses the mail (554)' },
    ],
    ['the mail is to be tried again', { onData: (stream, _s, done) => void stream.resume().on('end', () => done(refusing(452))) }, { kind: 'later' }],
    ['it is busy', { onConnect: (_s, done) => done(refusing(421)) }, { kind: 'later' }],
  ] as [string, SMTPServerOptions, object][])('%s: no secret in the reason', async (_, options, expected) => {
    const { sender } = await served(options, 'tls', { credentials: MAIL_LOGIN });
    const result = await sender.send(notice(), '', open);
    expect(result).toMatchObject(expected);
    expect(JSON.stringify(result)).not.toContain('hunter2');
  });

  it('one of several recipients is refused: sent, and said so', async () => {
    const { sender } = await served({ onRcptTo: ({ address }, _, done) => done(address.startsWith('two') ? refusing(550) : null) });
    expect(await sender.send(notice(), '', open)).toEqual({ kind: 'sent', detail: 'taken by localhost; it refused 1 of 2 recipients' });
  });
});

describe('N14: a mail server that hangs', () => {
  async function mute(greeting: string) {
    const sockets = new Set<Socket>();
    const server = createServer((socket) => {
      sockets.add(socket);
      socket
        .on('error', () => undefined)
        .on('close', () => sockets.delete(socket))
        .resume();
      if (greeting) socket.write(greeting);
    });
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
    closing.push(() => new Promise((resolve) => server.close(resolve)));
    return { port: (server.address() as AddressInfo).port, left: () => until(() => sockets.size === 0) };
  }

  it.each(['', '220 hello\r\n'])('after %j is left in time, with nothing kept open', async (greeting) => {
    const { port, left } = await mute(greeting);
    expect(await senderTo(port, 'none', { waitMs: 50 }).send(notice(), '', open)).toMatchObject({ kind: 'later' });
    expect(await senderTo(port, 'none', { limitMs: 50 }).send(notice(), '', open)).toEqual({ kind: 'later', reason: 'localhost did not answer in time' });
    expect(await senderTo(port, 'none', { limitMs: 50 }).probe(open)).toMatchObject({ kind: 'later' });
    expect(await senderTo(port, 'tls', { limitMs: 50 }).probe(open)).toMatchObject({ kind: 'later' });
    const stop = new AbortController();
    const sending = senderTo(port).send(notice(), '', stop.signal);
    stop.abort();
    expect(await sending).toMatchObject({ kind: 'later' });
    await left();
  });

  it('or is not there', async () => {
    const { port } = await openMailServer(tls).then(async (server) => {
      await server.close();
      return server;
    });
    expect(await senderTo(port).send(notice(), '', open)).toEqual({ kind: 'later', reason: 'localhost takes no connection' });
  });
});

describe('its text', () => {
  it('says first how urgent it is, or that it is over', () => {
    const titled = (over: Parameters<typeof notice>[0]) => subjectOf(notice({ title: 'T', ...over }));
    expect(titled({ priority: 'critical' })).toBe('Critical: T (Heron)');
    expect(titled({ priority: 'critical', kind: 'returned' })).toBe('Over: T (Heron)');
    expect(titled({ kind: 'test' })).toBe('Test: T (Heron)');
    expect(titled({ kind: 'briefing' })).toBe('T (Heron)');
  });

  it('X04: a name begins no header or line of its own, and turns no line round', async () => {
    const evil = notice({ rigName: 'Heron\r\nBcc: all@example.org', title: 'x\u202eevil\u0000', helps: ['one\n- two'] });
    expect(subjectOf(evil)).toBe('High: xevil (Heron Bcc: all@example.org)');
    expect(textOf(evil)).toContain('- one - two\n');
    expect(textOf(evil)).toContain('Said by Heron Bcc: all@example.org at 04:10.');
    const { server, sender } = await served({});
    await sender.send(evil, '', open);
    expect(server.mails[0]?.to).toEqual(['one@example.org', 'two@example.org']);
    expect(server.mails[0]?.text).not.toMatch(/^Bcc/im);
  });

  it('keeps its id over attempts, and has another for the next notice about the same event', () => {
    const first = messageIds(notice({ eventId: 'a b>@c' }), 'example.org');
    expect(first).toEqual(messageIds(notice({ eventId: 'a b>@c' }), 'example.org'));
    expect(first.threadId).toBe('<a_b__c@example.org>');
    const next = messageIds(notice({ eventId: 'a b>@c', noticeId: '11111111-6d8a-4a6b-9a43-0d4f8f1f2a10' }), 'example.org');
    expect(next.messageId).not.toBe(first.messageId);
    expect(next.threadId).toBe(first.threadId);
  });
});
