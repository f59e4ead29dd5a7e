import { describe, expect, test } from 'vitest';
import { AppError } from '../../../shared/errors.ts';
import { ErrorBody, History } from '../../../shared/schema/api.ts';
import { NOON_MS, serverUnderTest } from './rig-under-test.ts';

const RANGE = `fromMs=${NOON_MS}&toMs=${NOON_MS + 3_600_000}`;
const READS = [
  '/api/health',
  '/api/sensors',
  `/api/history?signal=bank.voltage&buckets=4&${RANGE}`,
  `/api/soc?${RANGE}`,
  `/api/nights?${RANGE}`,
  `/api/nights?format=csv&${RANGE}`,
  `/api/night-curves?${RANGE}`,
  '/api/places',
  `/api/days?${RANGE}`,
  `/api/look-back?${RANGE}`,
  '/api/now',
  '/api/alarm-book',
  `/api/alarm-log?${RANGE}`,
  `/api/alarm-log?format=csv&${RANGE}`,
  `/api/alarm-figures?${RANGE}`,
  '/api/rig-book',
  '/api/log-lines?limit=20',
];
const acknowledge = (more = {}) => ({
  kind: 'acknowledge',
  id: crypto.randomUUID(),
  expiresMs: NOON_MS + 30_000,
  alarmId: 'low-point',
  occurrence: 1,
  ...more,
});

/** The body of an error answer, by its schema. */
const errorOf = (response: { json(): unknown }) => ErrorBody.parse(response.json());

describe('reading over HTTP', () => {
  test.each(READS)('%s answers with an ETag, and 304 to who holds the same', async (url) => {
    const { app } = await serverUnderTest();
    const first = await app.inject({ url });
    expect(first.statusCode).toBe(200);
    expect(first.headers['cache-control']).toBe('private, no-cache');
    const etag = String(first.headers.etag);
    const again = await app.inject({ url, headers: { 'if-none-match': `"other", W/${etag}` } });
    expect([again.statusCode, again.body]).toEqual([304, '']);
    expect(again.headers.etag).toBe(etag);
  });

  test('answers anew when the data changed', async () => {
    const { app, view } = await serverUnderTest();
    const etag = (await app.inject({ url: `/api/soc?${RANGE}` })).headers.etag;
    if (view.bank) view.bank.socPct = 70;
    const changed = await app.inject({ url: `/api/soc?${RANGE}`, headers: { 'if-none-match': String(etag) } });
    expect(changed.statusCode).toBe(200);
    expect(changed.json()).toMatchObject({ points: [{ socPct: 70 }] });
  });

  test('sends null, never a number that JSON cannot carry', async () => {
    const { app } = await serverUnderTest();
    const history = History.parse((await app.inject({ url: READS[2] ?? '' })).json());
    expect(history.mean).toEqual([null, null, null, null]);
  });

  test.each([
    '/api/history?signal=bank.voltage',
    `/api/history?signal=bank.voltage&buckets=2001&${RANGE}`,
    '/api/soc?fromMs=2&toMs=1',
    `/api/soc?fromMs=0&toMs=${32 * 86_400_000}`,
    '/api/nights?fromMs=0&toMs=99999999999999',
    '/api/soc?fromMs=1&fromMs=2&toMs=3',
  ])('%s is refused as invalid', async (url) => {
    const { app } = await serverUnderTest();
    const response = await app.inject({ url });
    expect(response.statusCode).toBe(400);
    expect(errorOf(response)).toMatchObject({
      code: 'REQUEST_INVALID',
      issues: expect.arrayContaining([expect.objectContaining({ path: expect.stringMatching(/^(fromMs|toMs|buckets)$/) })]),
    });
  });

  test.each(['/api/history?signal=__proto__.x', '/api/history?signal=%3Cimg%3E', '/api/nothing', '/api', '/api/health/x'])('%s is not found', async (path) => {
    const { app } = await serverUnderTest();
    const response = await app.inject({ url: path.includes('?') ? `${path}&${RANGE}` : path });
    expect(response.statusCode).toBe(404);
    expect(errorOf(response).code).toBe('NOT_FOUND');
    expect(response.body).not.toContain('img');
  });
});

describe('the log of the alarms', () => {
  test('is searched by what is asked, with the rest filled in', async () => {
    const { app, logQueries, log } = await serverUnderTest();
    const response = await app.inject({ url: `/api/alarm-log?text=bank&alarm=low-point&limit=20&${RANGE}` });
    expect(response.json()).toEqual(log);
    await app.inject({ url: `/api/alarm-log?${RANGE}` });
    const range = { fromMs: NOON_MS, toMs: NOON_MS + 3_600_000 };
    expect(logQueries).toEqual([
      { ...range, text: 'bank', alarm: 'low-point', limit: 20 },
      { ...range, text: '', alarm: '', limit: 300 },
    ]);
  });

  test('comes as a file where that is asked for', async () => {
    const { app, log } = await serverUnderTest();
    const { headers, body } = await app.inject({ url: `/api/alarm-log?format=csv&${RANGE}` });
    expect(headers).toMatchObject({ 'content-type': 'text/csv; charset=utf-8', 'content-disposition': 'attachment; filename="alarms.csv"' });
    expect(body.split('\r\n')).toHaveLength(1 + log.lines.length + 1);
  });

  test.each(['limit=0', 'limit=20001', 'format=xml', `text=${'x'.repeat(81)}`])('is not given for %s', async (part) => {
    const { app, logQueries } = await serverUnderTest();
    const response = await app.inject({ url: `/api/alarm-log?${part}&${RANGE}` });
    expect([response.statusCode, errorOf(response).code, logQueries.length]).toEqual([400, 'REQUEST_INVALID', 0]);
  });
});

describe('a receipt', () => {
  const receipt = { noticeId: crypto.randomUUID(), subscription: 'https://push.example/x' };

  test('is taken from any paired device, a viewer too, and from nobody else', async () => {
    const { app, pairing, receipts } = await serverUnderTest({ loopback: false });
    const send = (headers: Record<string, string>) => app.inject({ method: 'POST', url: '/api/receipts', payload: receipt, headers });
    expect((await send({})).statusCode).toBe(401);
    const { token } = await pairing.redeem((await pairing.createCode('viewer')).code, 'Phone', '192.168.4.20');
    const response = await send({ authorization: `Bearer ${token}` });
    expect([response.statusCode, response.body]).toEqual([204, '']);
    expect(receipts).toEqual([receipt]);
  });

  test('of a notice that is not known is said to be so, and one that is none is refused', async () => {
    const { app, rig } = await serverUnderTest();
    rig.receipt = async () => Promise.reject(new AppError('NOT_FOUND', 'no such notice was sent there'));
    const send = (payload: object) => app.inject({ method: 'POST', url: '/api/receipts', payload });
    expect(errorOf(await send(receipt)).code).toBe('NOT_FOUND');
    expect(errorOf(await send({ ...receipt, noticeId: 'x' })).code).toBe('REQUEST_INVALID');
  });
});

describe('a fault of the box', () => {
  test('is answered without its inner words', async () => {
    const { app, rig } = await serverUnderTest();
    rig.soc = async () => {
      throw new TypeError('cannot read /home/me/rig.sqlite');
    };
    const response = await app.inject({ url: `/api/soc?${RANGE}` });
    expect(response.statusCode).toBe(500);
    expect(errorOf(response).code).toBe('INTERNAL');
    expect(response.body).not.toContain('sqlite');
  });

  test('such as an answer that does not fit its schema is not sent', async () => {
    const { app, view } = await serverUnderTest();
    view.health.messages = Number.NaN;
    const response = await app.inject({ url: '/api/health' });
    expect([response.statusCode, errorOf(response).code]).toEqual([500, 'INTERNAL']);
  });
});

describe('a question about the night ahead', () => {
  const ask = async (payload: object) => {
    const under = await serverUnderTest();
    return { ...under, response: await under.app.inject({ method: 'POST', url: '/api/advice', payload }) };
  };

  test('reaches the rig with what it leaves out filled in', async () => {
    const { questions, response } = await ask({ kind: 'run', powerW: 900, minutes: 50, startMs: NOON_MS });
    expect(questions).toEqual([{ kind: 'run', powerW: 900, minutes: 50, startMs: NOON_MS, peakW: null, confidence: 0.8 }]);
    expect([response.statusCode, errorOf(response).code]).toEqual([404, 'NOT_FOUND']);
  });

  test.each([{}, { kind: 'tonight', confidence: 0.3 }, { kind: 'run', powerW: -5, minutes: 10, startMs: NOON_MS }])(
    '%j is refused as invalid',
    async (payload) => {
      const { questions, response } = await ask(payload);
      expect([response.statusCode, errorOf(response).code, questions.length]).toEqual([400, 'REQUEST_INVALID', 0]);
    },
  );
});

describe('a command', () => {
  test('is done once, and a repeat of its id is answered as before, even after its expiry', async () => {
    const { app, commands, view } = await serverUnderTest();
    const payload = acknowledge();
    const send = () => app.inject({ method: 'POST', url: '/api/commands', payload });
    const [first, second] = await Promise.all([send(), send()]);
    view.serverMs += 3_600_000;
    const late = await send();
    for (const response of [first, second, late]) expect(response.json()).toEqual({ id: payload.id, done: true, reason: '' });
    expect(commands).toEqual([{ command: payload, by: 'this box' }]);
  });

  test('after its expiry is refused and not done', async () => {
    const { app, commands, view } = await serverUnderTest();
    const response = await app.inject({ method: 'POST', url: '/api/commands', payload: acknowledge({ expiresMs: view.serverMs }) });
    expect(response.statusCode).toBe(410);
    expect(errorOf(response).code).toBe('COMMAND_EXPIRED');
    expect(commands).toEqual([]);
  });

  test('under the id of another command is refused', async () => {
    const { app, commands } = await serverUnderTest();
    const payload = acknowledge();
    await app.inject({ method: 'POST', url: '/api/commands', payload });
    const response = await app.inject({ method: 'POST', url: '/api/commands', payload: { ...payload, occurrence: 2 } });
    expect(errorOf(response).code).toBe('REQUEST_INVALID');
    expect(commands).toHaveLength(1);
  });

  test('announces a load or takes one out, with its name trimmed; what no load can be is refused', async () => {
    const { app, commands } = await serverUnderTest();
    const send = (payload: object) => app.inject({ method: 'POST', url: '/api/commands', payload });
    const stamp = () => ({ id: crypto.randomUUID(), expiresMs: NOON_MS + 30_000 });
    const plan = { kind: 'plan-load', name: ' oven ', powerW: 900, minutes: 50, startMs: NOON_MS };
    const drop = { kind: 'drop-load', loadId: crypto.randomUUID() };
    for (const payload of [plan, drop]) expect((await send({ ...payload, ...stamp() })).statusCode).toBe(200);
    expect(commands.map(({ command }) => command)).toMatchObject([{ ...plan, name: 'oven' }, drop]);
    const wrong = [
      { name: ' ' },
      { name: 'x'.repeat(41) },
      { powerW: 0 },
      { powerW: 30_000 },
      { minutes: 0 },
      { minutes: 1441 },
      { startMs: 0.5 },
      { endMs: 1 },
    ];
    for (const part of wrong) expect([part, (await send({ ...plan, ...part, ...stamp() })).statusCode]).toEqual([part, 400]);
    expect(commands).toHaveLength(2);
  });

  test('that failed may be sent again under its id', async () => {
    const { app, rig } = await serverUnderTest();
    const { command } = rig;
    rig.command = async () => Promise.reject(new Error('disk'));
    const payload = acknowledge();
    expect((await app.inject({ method: 'POST', url: '/api/commands', payload })).statusCode).toBe(500);
    rig.command = command;
    expect((await app.inject({ method: 'POST', url: '/api/commands', payload })).json()).toMatchObject({ done: true });
  });

  test.each([
    ['is not JSON', '{"kind":', 'application/json', 400],
    ['is sent as a form, as a foreign page could', 'kind=acknowledge', 'application/x-www-form-urlencoded', 415],
    ['is sent as plain text, as a foreign page could', '{}', 'text/plain', 415],
    ['is too large', `{"kind":"${'x'.repeat(20_000)}"}`, 'application/json', 413],
    ['tries to change prototypes', '{"__proto__":{"role":"operator"}}', 'application/json', 400],
    ['is of an unknown kind', '{"kind":"<img src=x>"}', 'application/json', 400],
  ])('that %s is refused without an echo', async (_, payload, type, status) => {
    const { app, commands } = await serverUnderTest();
    const response = await app.inject({ method: 'POST', url: '/api/commands', payload, headers: { 'content-type': type } });
    expect(response.statusCode).toBe(status);
    expect(errorOf(response).code).toBe('REQUEST_INVALID');
    expect(response.body).not.toMatch(/<img|xxx|__proto__/);
    expect(commands).toEqual([]);
  });
});

describe('who may ask', () => {
  const hosts = ['evil.example', 'evil.example:80', 'localhost.', '169.254.1.1', 'localhost@evil.example', '/'];
  test.each(hosts)('Host %j is refused everywhere', async (host) => {
    const { app } = await serverUnderTest({ allowedHosts: ['heron.local'] });
    for (const url of ['/', '/api/health', '/nothing']) {
      const response = await app.inject({ url, headers: { host } });
      expect([response.statusCode, errorOf(response).code]).toEqual([403, 'REQUEST_FOREIGN']);
    }
  });

  test.each(['localhost:8350', '127.0.0.1:8350', '[::1]:8350', 'Heron.local', 'heron.local:8350'])('Host %j is let in', async (host) => {
    const { app } = await serverUnderTest({ allowedHosts: ['heron.local'] });
    expect((await app.inject({ url: '/api/health', headers: { host } })).statusCode).toBe(200);
  });

  test.each([
    [{ origin: 'http://evil.example' }, 403],
    [{ origin: 'http://localhost:3000' }, 403],
    [{ origin: 'null' }, 403],
    [{ origin: 'file://' }, 403],
    [{ 'sec-fetch-site': 'cross-site' }, 403],
    [{ 'sec-fetch-site': 'same-site' }, 403],
    [{ origin: 'http://localhost:8350', 'sec-fetch-site': 'same-origin' }, 200],
    [{ origin: 'https://localhost:8350' }, 200],
    [{ 'sec-fetch-site': 'none' }, 200],
    [{}, 200],
  ])('a page that says %j gets %i', async (headers, status) => {
    const { app } = await serverUnderTest();
    const response = await app.inject({ url: '/api/health', headers: { host: 'localhost:8350', ...headers } });
    expect(response.statusCode).toBe(status);
    expect(response.headers['access-control-allow-origin']).toBeUndefined();
  });
});

describe('on the rig’s network', () => {
  const lan = { loopback: false, allowedHosts: ['heron.local'] };

  test.each(READS)('%s is for paired devices only', async (url) => {
    const { app } = await serverUnderTest(lan);
    for (const headers of [{}, { cookie: `dawnhold_device=${'A'.repeat(43)}` }, { authorization: 'Bearer x' }]) {
      const response = await app.inject({ url, headers });
      expect([response.statusCode, errorOf(response).code]).toEqual([401, 'NOT_PAIRED']);
    }
  });

  test('a code is traded for a cookie that no script reads and no other site sends', async () => {
    const { app, pairing, commands } = await serverUnderTest(lan);
    const { code } = await pairing.createCode('operator');
    const paired = await app.inject({ method: 'POST', url: '/api/pair', payload: { code, deviceName: 'Tablet' } });
    expect(paired.json()).toMatchObject({ role: 'operator' });
    const set = String(paired.headers['set-cookie']);
    expect(set).toMatch(/^dawnhold_device=[\w-]{43}; Path=\/; Max-Age=34560000; HttpOnly; SameSite=Strict$/);
    const token = set.slice('dawnhold_device='.length, set.indexOf(';'));
    expect(paired.body).not.toContain(token);
    for (const headers of [{ cookie: `a=b; dawnhold_device=${token}` }, { authorization: `Bearer ${token}` }]) {
      for (const url of READS) expect((await app.inject({ url, headers })).statusCode).toBe(200);
      expect((await app.inject({ method: 'POST', url: '/api/commands', payload: acknowledge(), headers })).statusCode).toBe(200);
    }
    expect(commands.map(({ by }) => by)).toEqual(['Tablet', 'Tablet']);
  });

  test('a viewer looks, and is told that it may not command', async () => {
    const { app, pairing, commands } = await serverUnderTest(lan);
    const { token } = await pairing.redeem((await pairing.createCode('viewer')).code, 'Phone', '192.168.4.20');
    const headers = { authorization: `Bearer ${token}` };
    expect((await app.inject({ url: '/api/health', headers })).statusCode).toBe(200);
    const response = await app.inject({ method: 'POST', url: '/api/commands', payload: acknowledge(), headers });
    expect([response.statusCode, errorOf(response).code]).toEqual([403, 'NOT_PAIRED']);
    const payload = { kind: 'plan-load', id: crypto.randomUUID(), expiresMs: NOON_MS + 1, name: 'oven', powerW: 900, minutes: 50, startMs: NOON_MS };
    expect((await app.inject({ method: 'POST', url: '/api/commands', payload, headers })).statusCode).toBe(403);
    expect(commands).toEqual([]);
  });

  test('wrong codes are refused, and after ten from one address not even looked at', async () => {
    const { app } = await serverUnderTest(lan);
    const statuses: number[] = [];
    for (let i = 0; i < 11; i++) {
      statuses.push((await app.inject({ method: 'POST', url: '/api/pair', payload: { code: 'AAAA-AAAA', deviceName: 'x' } })).statusCode);
    }
    expect(statuses).toEqual([...Array(10).fill(401), 429]);
  });

  test('also a connection from the box itself, as through a proxy, needs pairing; and so does a far one where only loopback was meant', async () => {
    const far = await serverUnderTest({ loopback: true });
    expect((await far.app.inject({ url: '/api/health', remoteAddress: '192.168.4.20' })).statusCode).toBe(401);
    const near = await serverUnderTest(lan);
    expect((await near.app.inject({ url: '/api/health', remoteAddress: '127.0.0.1' })).statusCode).toBe(401);
  });
});
