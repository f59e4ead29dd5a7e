import { describe, expect, test } from 'vitest';
import { CODE_LIFE_MS, CODE_TRIES } from '../../../dashboard/server/pairing.ts';
import { pairingUnderTest } from './rig-under-test.ts';

const HERE = '192.168.4.20';
const refused = { code: 'NOT_PAIRED' };

describe('a pairing code', () => {
  test('is traded once for a token that stands for its role', async () => {
    const { pairing } = await pairingUnderTest();
    const { code } = await pairing.createCode('viewer');
    const { token, deviceId, role } = await pairing.redeem(code, 'Tablet', HERE);
    expect(role).toBe('viewer');
    expect(Buffer.from(token, 'base64url')).toHaveLength(32);
    expect(await pairing.device(token)).toMatchObject({ deviceId, role: 'viewer', name: 'Tablet' });
    await expect(pairing.redeem(code, 'Tablet', HERE)).rejects.toMatchObject(refused);
  });

  test('is eight characters that nobody mistakes, typed in any case and with or without its hyphen', async () => {
    const { pairing } = await pairingUnderTest();
    const { code } = await pairing.createCode('operator');
    expect(code).toMatch(/^[2-9ACDEFGHJKMNPQRTVWXY]{4}-[2-9ACDEFGHJKMNPQRTVWXY]{4}$/);
    await expect(pairing.redeem(code.toLowerCase().replace('-', ' '), 'Phone', HERE)).resolves.toMatchObject({ role: 'operator' });
  });

  test('is burnt by five wrong tries, also when they come all at once', async () => {
    const { pairing } = await pairingUnderTest();
    const { code } = await pairing.createCode('operator');
    const wrong = Array.from({ length: CODE_TRIES }, (_, i) => pairing.redeem('AAAA-AAAA', 'x', `192.168.4.${i}`));
    const right = pairing.redeem(code, 'Tablet', HERE);
    expect((await Promise.allSettled(wrong)).every(({ status }) => status === 'rejected')).toBe(true);
    await expect(right).rejects.toMatchObject(refused);
  });

  test('survives four wrong tries', async () => {
    const { pairing } = await pairingUnderTest();
    const { code } = await pairing.createCode('operator');
    for (let i = 1; i < CODE_TRIES; i++) await expect(pairing.redeem('AAAA-AAAA', 'x', HERE)).rejects.toMatchObject(refused);
    await expect(pairing.redeem(code, 'Tablet', HERE)).resolves.toMatchObject({ role: 'operator' });
  });

  test.each([
    ['ten minutes after it was made', CODE_LIFE_MS],
    ['when the clock was put back far behind its making', -3_600_000],
  ])('is worth nothing %s', async (_, stepMs) => {
    const { pairing, clock } = await pairingUnderTest();
    const { code } = await pairing.createCode('operator');
    clock.nowMs += stepMs;
    await expect(pairing.redeem(code, 'Tablet', HERE)).rejects.toMatchObject(refused);
  });

  test('replaces the one before', async () => {
    const { pairing } = await pairingUnderTest();
    const first = await pairing.createCode('operator');
    await pairing.createCode('viewer');
    await expect(pairing.redeem(first.code, 'Tablet', HERE)).rejects.toMatchObject(refused);
  });

  test('cannot be tried more than ten times from one address while others still can', async () => {
    const { pairing, clock } = await pairingUnderTest();
    for (let i = 0; i < 10; i++) await expect(pairing.redeem('AAAA-AAAA', 'x', HERE)).rejects.toMatchObject(refused);
    const { code } = await pairing.createCode('operator');
    await expect(pairing.redeem(code, 'x', HERE)).rejects.toMatchObject({ code: 'TOO_MANY_TRIES' });
    await expect(pairing.redeem('AAAA-AAAA', 'x', '192.168.4.21')).rejects.toMatchObject(refused);
    clock.nowMs += CODE_LIFE_MS;
    await expect(pairing.redeem('AAAA-AAAA', 'x', HERE)).rejects.toMatchObject(refused);
  });
});

describe('a paired device', () => {
  test('leaves only hashes in the store: neither its token nor its code', async () => {
    const { pairing, store } = await pairingUnderTest();
    const { code } = await pairing.createCode('operator');
    const kept: string[] = [];
    const note = async () => {
      for (const kind of ['pairing-code', 'paired-device', 'device-seen']) kept.push(JSON.stringify(await store.list(kind, 0, Number.MAX_SAFE_INTEGER)));
    };
    await note();
    const { token } = await pairing.redeem(code, 'Tablet', HERE);
    await pairing.device(token);
    await note();
    expect(kept.join()).toContain('Tablet');
    expect(kept.join()).not.toContain(token);
    expect(kept.join()).not.toContain(code.replace('-', ''));
  });

  test('is let in no longer once revoked, and a token of another making never', async () => {
    const { pairing } = await pairingUnderTest();
    const { token, deviceId } = await pairing.redeem((await pairing.createCode('operator')).code, 'Tablet', HERE);
    expect(await pairing.device(`${token.slice(0, -1)}_`)).toBeNull();
    expect(await pairing.revoke(deviceId)).toBe(true);
    expect(await pairing.device(token)).toBeNull();
    expect(await pairing.devices()).toEqual([]);
    expect(await pairing.revoke(deviceId)).toBe(false);
  });

  test('is listed with when it was last seen, right to the hour', async () => {
    const { pairing, clock } = await pairingUnderTest();
    const { token } = await pairing.redeem((await pairing.createCode('operator')).code, 'Tablet', HERE);
    const pairedMs = clock.nowMs;
    clock.nowMs += 7_200_000;
    await pairing.device(token);
    clock.nowMs += 60_000;
    await pairing.device(token);
    expect(await pairing.devices()).toMatchObject([{ name: 'Tablet', pairedMs, lastSeenMs: pairedMs + 7_200_000 }]);
  });

  test('has a name without characters that could forge a log line', async () => {
    const { pairing } = await pairingUnderTest();
    const { token } = await pairing.redeem((await pairing.createCode('operator')).code, 'Tab\u202elet\n\u0007', HERE);
    expect((await pairing.device(token))?.name).toBe('Tablet');
  });

  test('whose stored row is damaged is not let in', async () => {
    const { pairing, store } = await pairingUnderTest();
    const { token } = await pairing.redeem((await pairing.createCode('operator')).code, 'Tablet', HERE);
    const [entry] = await store.list('paired-device', 0, Number.MAX_SAFE_INTEGER);
    await store.put([{ kind: 'paired-device', id: entry?.id ?? '', tMs: 0, body: '{"role":"operator"' }]);
    expect(await pairing.device(token)).toBeNull();
  });
});
