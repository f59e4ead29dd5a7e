import { createECDH, createHmac, randomBytes } from 'node:crypto';
import { mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { decrypt } from 'http_ece';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { parseRigFile } from '../../../collector/config/load.ts';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import { openSenders, type SenderDeps, type Senders } from '../../../deploy/routes/senders.ts';
import { makeCertificate } from '../../helpers/certificate.ts';
import { type HttpServer, openHttpServer } from '../../helpers/http-server.ts';
import { MAIL_LOGIN, type MailServer, openMailServer } from '../../helpers/mail-server.ts';
import { NOTICE_MS, notice } from '../../helpers/notice.ts';
import { alarmOf } from '../../helpers/web-alarm.ts';

const tls = makeCertificate();
const open = new AbortController().signal;
const LATITUDE = '39.61234';
const LONGITUDE = '-8.15432';

let folder: string;
let web: HttpServer;
let post: MailServer;
let senders: Senders | null;
const published: string[] = [];
const told: string[] = [];
beforeEach(async () => {
  folder = mkdtempSync(join(tmpdir(), 'dawnhold-routes-'));
  web = await openHttpServer({ tls });
  post = await openMailServer({ ...tls, secure: true });
  writeFileSync(join(folder, 'ca.pem'), tls.cert);
  senders = null;
  published.length = 0;
  told.length = 0;
});
afterEach(async () => {
  await senders?.close();
  await web.close();
  await post.close();
  rmSync(folder, { recursive: true });
});

const rigFile = (more: string) =>
  parseRigFile(
    `rig: { id: heron, name: Heron }
place: { latitude: ${LATITUDE}, longitude: ${LONGITUDE} }
bank: { cells: 4, capacityAh: 280 }
signals:
  bank.voltage: { topic: a, unit: V }
  bank.current: { topic: b, unit: A }
${more}`,
    'rig.yaml',
  );
const everyRoute = () =>
  rigFile(`routes:
  letter: { kind: mail, server: localhost, port: ${post.port}, caFile: ca.pem, from: heron@example.org, to: [one@example.org] }
  hook: { kind: webhook, url: "https://localhost:${web.port}/hook?key=hunter2", allow: [localhost] }
  lamp: { kind: mqtt, topic: rig/lamp }
heartbeat: { url: "https://localhost:${web.port}/alive", allow: [localhost] }
`);

async function opened(file = everyRoute(), over: Partial<SenderDeps> = {}): Promise<Senders> {
  const store = createMemoryStore();
  await store.open();
  senders = await openSenders(file, {
    store,
    dataFolder: folder,
    rigFolder: folder,
    nowMs: () => NOTICE_MS,
    log: { info: (what) => void told.push(what), warn: (what) => void told.push(what) },
    publish: async (topic, payload) => void published.push(`${topic} ${payload}`),
    tablets: () => ({ sounding: 1, silent: 0 }),
    secrets: { mail: MAIL_LOGIN, webhook: null },
    onGone: (name) => void told.push(`gone ${name}`),
    pushAllow: ['localhost'],
    ca: tls.cert,
    ...over,
  });
  return senders;
}

it('a notice goes out by every route of a rig file, and nowhere the position, a secret of the rig or an address with one', async () => {
  const { all, devices, heartbeat } = await opened();
  const curve = createECDH('prime256v1');
  curve.generateKeys();
  const auth = randomBytes(16).toString('base64url');
  const endpoint = `https://localhost:${web.port}/push/secret-endpoint`;
  expect(await devices.add({ name: 'phone', by: 'tablet', subscription: { endpoint, keys: { p256dh: curve.getPublicKey('base64url'), auth } } })).toBe('');
  expect([...all()].map(([name, { kind, remote }]) => [name, kind, remote])).toEqual([
    ['tablet', 'tablet', false],
    ['phones', 'push', true],
    ['letter', 'mail', true],
    ['hook', 'webhook', false],
    ['lamp', 'mqtt', false],
  ]);
  const results: unknown[] = [];
  for (const sender of all().values()) for (const { id } of sender.targets()) results.push(await sender.send(notice(), id, open), await sender.probe(open));
  expect(results).toHaveLength(10);
  expect(results.filter((result) => (result as { kind: string }).kind !== 'sent')).toEqual([]);
  expect(await heartbeat()?.(open)).toMatchObject({ kind: 'sent' });

  const pushed = web.requests.find(({ path }) => path.startsWith('/push'));
  const hooked = web.requests.find(({ path }) => path.startsWith('/hook'));
  const out = {
    push: decrypt(pushed?.body ?? Buffer.of(), { version: 'aes128gcm', privateKey: curve, authSecret: auth }).toString(),
    hook: hooked?.body.toString() ?? '',
    mail: post.mails[0]?.text ?? '',
    lamp: published.join(),
  };
  const keys = readFileSync(join(folder, 'push-keys.json'), 'utf8');
  const secrets = [LATITUDE, LONGITUDE, 'hunter2', JSON.parse(keys).privateKey as string, readFileSync(join(folder, 'webhook-hook.secret'), 'utf8').trim()];
  for (const text of Object.values(out)) {
    expect(text).toContain('29 % at the low point');
    expect(secrets.filter((secret) => text.includes(secret))).toEqual([]);
  }
  const said = JSON.stringify([results, told]);
  expect([...secrets, 'secret-endpoint', auth].filter((secret) => said.includes(secret))).toEqual([]);
});

it('a webhook is signed with a secret made for it, kept for the program’s user alone, or with the one given', async () => {
  const signedWith = (key: Buffer): boolean => {
    const request = web.requests.at(-1);
    if (request === undefined) return false;
    const { headers, body } = request;
    const mac = createHmac('sha256', key).update(`${headers['webhook-id']}.${headers['webhook-timestamp']}.${body}`).digest('base64');
    return headers['webhook-signature'] === `v1,${mac}`;
  };
  await (await opened()).all().get('hook')?.send(notice(), '', open);
  const path = join(folder, 'webhook-hook.secret');
  const made = readFileSync(path, 'utf8');
  expect(made).toMatch(/^whsec_[A-Za-z0-9+/]{43}=\n$/);
  expect(statSync(path).mode & 0o777).toBe(0o600);
  expect(signedWith(Buffer.from(made.slice(6), 'base64'))).toBe(true);
  expect(told.filter((text) => text.includes(path))).toHaveLength(1);

  await (await opened(everyRoute(), { secrets: { mail: null, webhook: `whsec_${Buffer.from('x'.repeat(32)).toString('base64')}` } }))
    .all()
    .get('hook')
    ?.send(notice(), '', open);
  expect(signedWith(Buffer.from('x'.repeat(32)))).toBe(true);
  await (await opened(everyRoute(), { secrets: { mail: null, webhook: 'open sesame' } })).all().get('hook')?.send(notice(), '', open);
  expect(signedWith(Buffer.from('open sesame'))).toBe(true);
  expect(readFileSync(path, 'utf8')).toBe(made);
});

it('an edit closes what is gone, makes what is new and lets the rest go on', async () => {
  const { all, replace, heartbeat, alarmsAre, brokerIsBack, pushKey } = await opened();
  const before = all();
  await before.get('lamp')?.send(notice(), '', open);
  const lit = published.at(-1);
  expect(lit).toMatch(/^rig\/lamp {"alarm":"low-point"/);
  await replace(rigFile(`routes: { lamp: { kind: mqtt, topic: rig/other }, horn: { kind: mqtt, topic: rig/horn } }\n`));
  expect([...all().keys()]).toEqual(['tablet', 'phones', 'lamp', 'horn']);
  expect([all().get('phones') === before.get('phones'), all().get('lamp') === before.get('lamp')]).toEqual([true, false]);
  expect(heartbeat()).toBeNull();
  expect(published).toContain('rig/lamp ');
  await all().get('horn')?.probe(open);
  await all().get('lamp')?.probe(open);
  expect(published.at(-1)).toBe(lit?.replace('rig/lamp', 'rig/other'));
  published.length = 0;
  brokerIsBack();
  await all().get('lamp')?.probe(open);
  expect(published.filter((text) => text.startsWith('rig/other'))).toEqual([expect.stringContaining('low-point'), expect.stringContaining('low-point')]);
  alarmsAre([alarmOf({ id: 'low-point', lifecycle: 'acknowledged', condition: true })]);
  await all().get('lamp')?.probe(open);
  expect(published.at(-1)).toBe('rig/other ');
  expect(readFileSync(join(folder, 'push-keys.json'), 'utf8')).toContain(pushKey);
});

it('an edit that cannot be followed leaves the routes as they were', async () => {
  const store = createMemoryStore();
  await store.open();
  const { all, replace } = await opened(rigFile(''), { store });
  await store.close();
  await replace(everyRoute());
  expect([...all().keys()]).toEqual(['tablet', 'phones']);
  expect(told.at(-1)).toContain('the routes stay as they were');
});

it('where no secret can be kept, alarms go out with one for this run alone, and that is said', async () => {
  const { all, replace } = await opened(rigFile(''));
  rmSync(folder, { recursive: true });
  await replace(everyRoute());
  expect([...all().keys()]).toContain('hook');
  expect(told.at(-1)).toMatch(/signs the webhook hook.* good for this run alone/);
  folder = mkdtempSync(join(tmpdir(), 'dawnhold-routes-'));
});
