import { readFileSync } from 'node:fs';
import { z } from 'zod';
import type { CopySecrets } from '../collector/store/copy/target.ts';
import { AppError, reasonOf } from '../shared/errors.ts';

/** Names of the secrets a person hands over in the environment, or in a file that `<name>_FILE` names. */
const SECRETS = {
  broker: ['DAWNHOLD_BROKER_USER', 'DAWNHOLD_BROKER_PASSWORD'],
  mail: ['DAWNHOLD_MAIL_USER', 'DAWNHOLD_MAIL_PASSWORD'],
  webhook: ['DAWNHOLD_WEBHOOK_SECRET'],
  copyUser: ['DAWNHOLD_COPY_USER', 'DAWNHOLD_COPY_PASSWORD'],
  copyToken: ['DAWNHOLD_COPY_TOKEN'],
} as const;
type Variables = Readonly<Record<string, string | undefined>>;

/** A user name with its password. */
export interface Credentials {
  readonly user: string;
  readonly password: string;
}
/** The broker's user name and password. */
export type BrokerSecrets = Credentials;

/** Reads the broker's credentials; null without any. Throws SECRET_MISSING when only one of the two is there or a named file cannot be read. */
export const brokerSecrets = (variables: Variables = process.env): BrokerSecrets | null => credentials(SECRETS.broker, variables);

/** The same for the mail server. */
export const mailSecrets = (variables: Variables = process.env): Credentials | null => credentials(SECRETS.mail, variables);

/** What webhooks are signed with, where the person wants to say it; null: Dawnhold makes one for each. Throws SECRET_MISSING as above. */
export const webhookSecret = (variables: Variables = process.env): string | null => read(SECRETS.webhook, variables)[0] ?? null;

/** What the server that keeps the copy knows the rig by; all null where it asks nobody. Throws SECRET_MISSING as above. */
export function copySecrets(variables: Variables = process.env): CopySecrets {
  const { user, password } = credentials(SECRETS.copyUser, variables) ?? { user: null, password: null };
  return { token: read(SECRETS.copyToken, variables)[0] ?? null, user, password };
}

function credentials(names: readonly [string, string], variables: Variables): Credentials | null {
  const [user, password] = read(names, variables);
  if (user === undefined && password === undefined) return null;
  if (user === undefined || password === undefined) {
    const missing = user === undefined ? names[0] : names[1];
    throw new AppError('SECRET_MISSING', `${missing} is missing; set both ${names.join(' and ')} (or their _FILE forms), or neither`);
  }
  return { user, password };
}

/** The values of some secrets, in their order; undefined where one is not given. */
function read(names: readonly string[], variables: Variables): (string | undefined)[] {
  const keys = names.flatMap((name) => [name, `${name}_FILE`]);
  const parsed = z.object(Object.fromEntries(keys.map((key) => [key, z.string().min(1).max(4096).optional()]))).safeParse(variables);
  if (!parsed.success) {
    const wrong = parsed.error.issues.map(({ path }) => path.join('.')).join(', ');
    throw new AppError('SECRET_MISSING', `${wrong} in the environment is empty or too long; expected a text of 1 to 4096 characters, or leave it out`);
  }
  return names.map((name) => secretOf(name, parsed.data));
}

function secretOf(name: string, values: Variables): string | undefined {
  const file = values[`${name}_FILE`];
  if (file === undefined) return values[name];
  try {
    return readFileSync(file, 'utf8').replace(/\r?\n$/, '');
  } catch (cause) {
    throw new AppError('SECRET_MISSING', `${name}_FILE names a file that cannot be read: ${reasonOf(cause)}`, { cause });
  }
}
