import { expect, test } from 'vitest';
import { brokerFault } from '../../../collector/mqtt/broker-fault.ts';

const withCode = (code: string | number) => Object.assign(new Error('as the library says it'), { code });

test.each([
  ['ECONNREFUSED', /^nothing listens at box:1883; see that the broker runs/],
  ['ENOTFOUND', /^no machine is known by the name box; /],
  ['ETIMEDOUT', /^box does not answer; /],
  [5, /does not take this user name and password/],
  [0x86, /does not take this user name and password/],
  ['DEPTH_ZERO_SELF_SIGNED_CERT', /certificate of box is not trusted .* broker\.caFile$/],
  ['ECONNRESET', /^as the library says it$/],
])('a fault %s of a broker is told in words, with what to do', (code, words) => {
  expect(brokerFault(withCode(code), 'mqtt://box:1883')).toMatch(words);
});

test('one that is no error is told as it is', () => {
  expect(brokerFault('odd', 'mqtt://box')).toBe('odd');
});
