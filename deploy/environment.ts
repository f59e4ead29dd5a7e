import { readFileSync } from 'node:fs';
import { z } from 'zod';
import { AppError, reasonOf } from '../shared/errors.ts';

/** Names of the secrets a person hands over in the environment, or in a file that `<name>_FILE` names. */
const SECRETS = ['DAWNHOLD_BROKER_USER', 'DAWNHOLD_BROKER_PASSWORD'] as const;
type SecretName = (typeof SECRETS)[number];

const Environment = z.object(
  Object.fromEntries(SECRETS.flatMap((name) => [name, `${name}_FILE`].map((key) => [key, z.string().min(1).max(4096).optional()]))) as Record<
    SecretName | `${SecretName}_FILE`,
    z.ZodOptional<z.ZodString>
  >,
);

/** The broker's user name and password. */
export interface BrokerSecrets {
  readonly user: string;
  readonly password: string;
}

/** Reads the broker's credentials; null without any. Throws SECRET_MISSING when only one of the two is there or a named file cannot be read. */
export function brokerSecrets(variables: Readonly<Record<string, string | undefined>> = process.env): BrokerSecrets | null {
  const parsed = Environment.safeParse(variables);
  if (!parsed.success) {
    const wrong = parsed.error.issues.map(({ path }) => path.join('.')).join(', ');
    throw new AppError('SECRET_MISSING', `${wrong} in the environment is empty or too long; expected a text of 1 to 4096 characters, or leave it out`);
  }
  const [user, password] = SECRETS.map((name) => secretOf(name, parsed.data));
  if (user === undefined && password === undefined) return null;
  if (user === undefined || password === undefined) {
    const missing = user === undefined ? SECRETS[0] : SECRETS[1];
    throw new AppError('SECRET_MISSING', `${missing} is missing; set both ${SECRETS.join(' and ')} (or their _FILE forms), or neither`);
  }
  return { user, password };
}

function secretOf(name: SecretName, values: z.infer<typeof Environment>): string | undefined {
  const file = values[`${name}_FILE`];
  if (file === undefined) return values[name];
  try {
    return readFileSync(file, 'utf8').replace(/\r?\n$/, '');
  } catch (cause) {
    throw new AppError('SECRET_MISSING', `${name}_FILE names a file that cannot be read: ${reasonOf(cause)}`, { cause });
  }
}
