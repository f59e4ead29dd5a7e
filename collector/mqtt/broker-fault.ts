import { reasonOf } from '../../shared/errors.ts';

/** Return codes of a broker that does not take who connects. @source MQTT 3.1.1, table 3.1 (4, 5); MQTT 5.0, 3.2.2.2 (0x86, 0x87, 0x8c) */
const NOT_LET_IN: readonly unknown[] = [4, 5, 0x86, 0x87, 0x8c];
const CERTIFICATE = /^(DEPTH_ZERO_SELF_SIGNED_CERT|SELF_SIGNED_CERT_IN_CHAIN|UNABLE_TO_|ERR_TLS_CERT|CERT_)/;

/** Why a broker is not reached, in words for a person with what to do; nothing of the credentials is in it. `url` has none. */
export function brokerFault(error: unknown, url: string): string {
  const { code } = (error ?? {}) as { code?: unknown };
  const { hostname, host } = new URL(url);
  if (NOT_LET_IN.includes(code))
    return `the broker at ${host} does not take this user name and password; see DAWNHOLD_BROKER_USER and DAWNHOLD_BROKER_PASSWORD in the environment`;
  if (code === 'ECONNREFUSED') return `nothing listens at ${host}; see that the broker runs, and that address and port are right`;
  if (code === 'ENOTFOUND' || code === 'EAI_AGAIN') return `no machine is known by the name ${hostname}; see that it is right, or use its address`;
  if (code === 'ETIMEDOUT' || code === 'EHOSTUNREACH' || code === 'ENETUNREACH' || code === 'EHOSTDOWN')
    return `${hostname} does not answer; see that it is on, and on the same network`;
  if (typeof code === 'string' && CERTIFICATE.test(code))
    return `the certificate of ${hostname} is not trusted (${code}); name the authority that signed it in broker.caFile`;
  return reasonOf(error);
}
