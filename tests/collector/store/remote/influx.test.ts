import { randomUUID } from 'node:crypto';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { createRemoteStore } from '../../../../collector/store/remote.ts';
import { CopyTo } from '../../../../shared/schema/copy-to.ts';
import { START_MS } from '../../../contract/readings.ts';
import { seriesContract } from '../../../contract/store.contract.ts';
import { type HttpServer, openHttpServer } from '../../../helpers/http-server.ts';
import { NO_SECRETS } from '../copy/copy-bench.ts';

const { DAWNHOLD_TEST_INFLUX_URL: url, DAWNHOLD_TEST_INFLUX_TOKEN: token, DAWNHOLD_TEST_INFLUX_ORG: org = 'dawnhold' } = process.env;
const isThere = Boolean(url && token);
if (!isThere) console.log('Skipped: the contract on InfluxDB 2, since DAWNHOLD_TEST_INFLUX_URL and DAWNHOLD_TEST_INFLUX_TOKEN are not set.');

/** A bucket of its own for each test, on a server of the person's. */
async function withBucket() {
  const headers = { authorization: `Token ${token}`, 'content-type': 'application/json' };
  const call = async (path: string, method: string, body?: unknown): Promise<Record<string, unknown>> => {
    const answer = await fetch(`${url}/api/v2/${path}`, { method, headers, ...(body !== undefined && { body: JSON.stringify(body) }) });
    if (!answer.ok) throw new Error(`${method} ${path}: ${answer.status} ${await answer.text()}`);
    return answer.status === 204 ? {} : ((await answer.json()) as Record<string, unknown>);
  };
  const { orgs } = (await call(`orgs?org=${encodeURIComponent(org)}`, 'GET')) as { orgs: [{ id: string }] };
  const bucket = `dawnhold-test-${randomUUID()}`;
  const { id } = await call('buckets', 'POST', { orgID: orgs[0].id, name: bucket, retentionRules: [] });
  const target = CopyTo.parse({ kind: 'influx', url, org, bucket });
  return {
    store: createRemoteStore({ target, secrets: { ...NO_SECRETS, token: token ?? null } }),
    remove: async () => void (await call(`buckets/${id}`, 'DELETE')),
  };
}

describe.skipIf(!isThere)('InfluxDB 2 as a remote store', () => {
  seriesContract(withBucket);
});

describe('what InfluxDB 2 is asked, and how its answers are read', () => {
  let server: HttpServer;
  beforeEach(async () => {
    server = await openHttpServer();
  });
  afterEach(() => server.close());

  const storeWith = async (csv: string) => {
    server.answer = (response) => void response.writeHead(200, { 'content-type': 'text/csv' }).end(csv.replaceAll('\n', '\r\n'));
    const target = CopyTo.parse({ kind: 'influx', url: `http://127.0.0.1:${server.port}`, org: 'me', bucket: 'ri"gs' });
    const store = createRemoteStore({ target, secrets: { ...NO_SECRETS, token: 'abc' } });
    await store.open();
    return store;
  };
  const asked = () => (JSON.parse(String(server.requests[0]?.body)) as { query: string }).query.replace(/\s+/g, ' ').trim();

  test('a range', async () => {
    const store = await storeWith(
      '#datatype,string,long,dateTime:RFC3339,double,double\n#group,false,false,false,false,false\n#default,_result,,,,\n,result,table,_time,mark,value\n' +
        ',,0,2026-06-01T00:00:00Z,0,26.4\n,,0,2026-06-01T00:00:01.5Z,5,26.5\n',
    );
    expect(await store.range('heron', 'bank.voltage', START_MS, START_MS + 2000)).toEqual({
      tMs: [START_MS, START_MS + 1500],
      value: [26.4, 26.5],
      suspect: [false, true],
    });
    expect(server.requests[0]).toMatchObject({ path: '/api/v2/query?org=me', headers: { authorization: 'Token abc' } });
    expect(asked()).toBe(
      'from(bucket: "ri\\"gs") |> range(start: 2026-06-01T00:00:00.000Z, stop: 2026-06-01T00:00:02.000Z) ' +
        '|> filter(fn: (r) => r._measurement == "reading" and r.rig == "heron" and r.signal == "bank.voltage") ' +
        '|> pivot(rowKey: ["_time"], columnKey: ["_field"], valueColumn: "_value") |> sort(columns: ["_time"]) |> limit(n: 100000) ' +
        '|> keep(columns: ["_time", "value", "mark"])',
    );
    await store.close();
  });

  test('hours in buckets, each a window of the server', async () => {
    const table = (name: string, type: string, value: string) =>
      `#datatype,string,long,dateTime:RFC3339,${type}\n#group,false,false,true,false\n#default,${name},,,\n,result,table,_start,_value\n,,0,2026-06-01T01:00:00Z,${value}\n\n`;
    const store = await storeWith(table('min', 'double', '1') + table('max', 'double', '3') + table('sum', 'double', '8') + table('count', 'long', '4'));
    expect(await store.buckets('heron', 'bank.voltage', START_MS, START_MS + 2 * 3_600_000, 2)).toEqual([
      { fromMs: START_MS, min: null, mean: null, max: null, count: 0 },
      { fromMs: START_MS + 3_600_000, min: 1, mean: 2, max: 3, count: 4 },
    ]);
    expect(asked()).toContain('window(every: duration(v: "3600000ms"), offset: duration(v: "0ms"))');
    await store.close();
  });

  test('the newest of each signal', async () => {
    const store = await storeWith(
      '#datatype,string,long,dateTime:RFC3339,double,string,string\n#group,false,false,false,false,true,true\n#default,_result,,,,,\n,result,table,_time,_value,_field,signal\n' +
        ',,0,2026-06-01T00:00:00Z,67,mark,bank.current\n,,1,2026-06-01T00:00:00Z,-8,value,bank.current\n',
    );
    const [newest] = await store.latest('heron', START_MS + 60_000);
    expect(newest).toMatchObject({ signal: 'bank.current', tMs: START_MS, value: -8, quality: 'suspect', timeSource: 'device' });
    await store.close();
  });

  test('a name that no rig file allows is never part of a question', async () => {
    const store = await storeWith('');
    expect(await store.range('heron", x: "', 'bank.voltage', 0, START_MS)).toEqual({ tMs: [], value: [], suspect: [] });
    expect(server.requests).toEqual([]);
    await store.close();
  });
});
