import { writeFile } from 'node:fs/promises';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { temporaryFolder } from '../../deploy/bars/processes.ts';
import { brokerSecrets, copySecrets, mailSecrets, webhookSecret } from '../../deploy/environment.ts';

test('credentials come from the environment, or from a file that is named there, without its line end', async () => {
  const folder = await temporaryFolder();
  const path = join(folder.path, 'password');
  await writeFile(path, 'open sesame\n');
  expect(brokerSecrets({})).toBeNull();
  expect(brokerSecrets({ DAWNHOLD_BROKER_USER: 'boards', DAWNHOLD_BROKER_PASSWORD: 'x' })).toEqual({ user: 'boards', password: 'x' });
  expect(brokerSecrets({ DAWNHOLD_BROKER_USER: 'boards', DAWNHOLD_BROKER_PASSWORD_FILE: path })).toEqual({ user: 'boards', password: 'open sesame' });
  await folder.remove();
});

test.each([
  [{ DAWNHOLD_BROKER_USER: 'boards' }, /DAWNHOLD_BROKER_PASSWORD is missing/],
  [{ DAWNHOLD_BROKER_PASSWORD: 'secret' }, /DAWNHOLD_BROKER_USER is missing/],
  [{ DAWNHOLD_BROKER_USER: '' }, /DAWNHOLD_BROKER_USER in the environment is empty/],
  [{ DAWNHOLD_BROKER_USER: 'boards', DAWNHOLD_BROKER_PASSWORD_FILE: '/nowhere/password' }, /DAWNHOLD_BROKER_PASSWORD_FILE names a file that cannot be read/],
])('%o is refused in words that do not repeat a secret', (variables, message) => {
  expect(() => brokerSecrets(variables)).toThrow(message);
  expect(() => brokerSecrets(variables)).not.toThrow(/secret/);
});

test('the mail server’s and the webhooks’ secrets are read likewise, each without a look at the others', async () => {
  const folder = await temporaryFolder();
  const path = join(folder.path, 'secret');
  await writeFile(path, 'whsec_abc\r\n');
  const wrong = { DAWNHOLD_BROKER_USER: '' };
  expect(mailSecrets({ ...wrong, DAWNHOLD_MAIL_USER: 'rig', DAWNHOLD_MAIL_PASSWORD: 'x' })).toEqual({ user: 'rig', password: 'x' });
  expect([mailSecrets(wrong), webhookSecret(wrong)]).toEqual([null, null]);
  expect(() => mailSecrets({ DAWNHOLD_MAIL_USER: 'rig' })).toThrow(/DAWNHOLD_MAIL_PASSWORD is missing; set both DAWNHOLD_MAIL_USER and DAWNHOLD_MAIL_PASSWORD/);
  expect(webhookSecret({ DAWNHOLD_WEBHOOK_SECRET_FILE: path })).toBe('whsec_abc');
  await folder.remove();
});

test('what the server of the copy knows us by is a token, or a user with a password', () => {
  expect(copySecrets({})).toEqual({ token: null, user: null, password: null });
  expect(copySecrets({ DAWNHOLD_COPY_TOKEN: 'abc' })).toEqual({ token: 'abc', user: null, password: null });
  expect(copySecrets({ DAWNHOLD_COPY_USER: 'rig', DAWNHOLD_COPY_PASSWORD: 'x' })).toEqual({ token: null, user: 'rig', password: 'x' });
  expect(() => copySecrets({ DAWNHOLD_COPY_USER: 'rig' })).toThrow(/DAWNHOLD_COPY_PASSWORD is missing/);
});
