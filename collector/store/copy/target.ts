import type { CopyTo } from '../../../shared/schema/copy-to.ts';

/** How we show a server who we are; all null where it asks nobody. */
export interface CopySecrets {
  readonly token: string | null;
  readonly user: string | null;
  readonly password: string | null;
}

/** A server that keeps the copy, with what it knows us by. */
export interface CopyServerAt {
  readonly target: CopyTo;
  readonly secrets: CopySecrets;
}

/** Headers that show who we are. A token beats a password; without either there are none. */
export function authorization({ token, user, password }: CopySecrets): Record<string, string> {
  if (token !== null) return { authorization: `Token ${token}` };
  if (user === null || password === null) return {};
  return { authorization: `Basic ${Buffer.from(`${user}:${password}`).toString('base64')}` };
}

/** Address of something on the server, whose own path may be a prefix. */
export function addressOn({ url }: CopyTo, path: string, query: Readonly<Record<string, string>> = {}): URL {
  const address = new URL(path, url.endsWith('/') ? url : `${url}/`);
  for (const [key, value] of Object.entries(query)) address.searchParams.append(key, value);
  return address;
}
