import { z } from 'zod';
import { duration } from './with-unit.ts';

const name = z.string().regex(/^[a-z][a-z0-9-]{0,31}$/, 'lower-case letters, digits and hyphens, at most 32, the first a letter');
const hostName = z.string().regex(/^[A-Za-z0-9._:[\]-]{1,253}$/, 'a host name or an address');
const clockTime = z.string().regex(/^([01]\d|2[0-3]):[0-5]\d$/, 'a time of day such as "22:30"');
const webUrl = z
  .string()
  .max(2000)
  .regex(/^https?:\/\/[^\s/@]+(\/\S*)?$/, 'an https:// or http:// address without user name or password')
  .describe('address; more of it than the host is never shown or logged, since it may hold a secret');
const allow = z.array(hostName).max(8).default([]).describe('private or loopback host names and addresses that may be reached all the same, each by name');

const push = z.strictObject({ kind: z.literal('push').describe('Web Push') }).describe('every phone or tablet that has subscribed on the Alarms screen');
const mail = z.strictObject({
  kind: z.literal('mail').describe('e-mail by SMTP'),
  server: hostName.describe('SMTP server'),
  port: z.int().min(1).max(65_535).default(465).describe('its port; 465 for tls, 587 for starttls is usual'),
  security: z.enum(['tls', 'starttls', 'none']).default('tls').describe('none only for a server on this box or its network'),
  caFile: z.string().max(512).optional().describe('certificate authority of the server, a file'),
  from: z.email().describe('address that it comes from'),
  to: z.array(z.email()).min(1).max(8).describe('addresses that it goes to'),
});
const webhook = z.strictObject({ kind: z.literal('webhook').describe('a signed HTTP request'), url: webUrl, allow });
const mqtt = z.strictObject({
  kind: z.literal('mqtt').describe('a topic for a buzzer or a lamp'),
  topic: z
    .string()
    .min(1)
    .max(512)
    .refine((t) => !/[+#\0]/.test(t) && !t.startsWith('$'), 'an MQTT topic without + or #')
    .describe('retained while an alarm that takes this route sounds, cleared when none does'),
});
const tablet = z.strictObject({ kind: z.literal('tablet').describe('sound') }).describe('the sound of every screen that is open and may sound');

export const Route = z.discriminatedUnion('kind', [push, mail, webhook, mqtt, tablet]);
export type Route = z.infer<typeof Route>;
export const ROUTE_KINDS = ['push', 'mail', 'webhook', 'mqtt', 'tablet'] as const;

/** The tablet's sound and the phones need no settings, so they are there without being named, and beside others that are. */
export const Routes = z
  .record(name, Route)
  .prefault({})
  .transform((given): Record<string, Route> => ({ tablet: { kind: 'tablet' }, phones: { kind: 'push' }, ...given }));
export type Routes = z.infer<typeof Routes>;

const call = z.strictObject({
  first: z.array(name).max(8).describe('routes that are taken at once'),
  atNight: z.array(name).max(8).optional().describe('instead of `first` within the quiet hours; left out: as `first`'),
  then: z
    .array(
      z.strictObject({
        after: duration(60, 24 * 3600).describe('so long after it was raised, when nobody has acknowledged it'),
        routes: z.array(name).min(1).max(8).describe('routes that are taken then'),
      }),
    )
    .max(6)
    .default([])
    .describe('who is next'),
});

/** Who is called by which priority. The tablet sounds for critical alarms at any hour, whatever stands here. */
export const CallOut = z
  .strictObject({
    quietHours: z.tuple([clockTime, clockTime]).nullable().default(['22:00', '07:00']).describe('from and to; null: none'),
    low: call.prefault({ first: ['phones'], atNight: [] }).describe('alarms of priority low'),
    medium: call.prefault({ first: ['tablet', 'phones'], atNight: ['tablet', 'phones'] }).describe('alarms of priority medium'),
    high: call.prefault({ first: ['tablet', 'phones'] }).describe('alarms of priority high'),
    critical: call.prefault({ first: ['tablet', 'phones'] }).describe('alarms of priority critical'),
    repeatEvery: duration(60, 24 * 3600)
      .default(900)
      .describe('high and critical alarms that nobody acknowledges are told again this often'),
  })
  .prefault({});
export type CallOut = z.infer<typeof CallOut>;

export const Briefings = z
  .strictObject({
    bedtime: clockTime.nullable().default('22:00').describe('when the evening briefing comes; null: never'),
    morning: z.boolean().default(true).describe('whether what the night cost is told once the panels have taken over'),
    routes: z.array(name).max(8).default(['phones']).describe('routes that they take'),
  })
  .prefault({});
export type Briefings = z.infer<typeof Briefings>;

export const Heartbeat = z.strictObject({
  url: webUrl,
  every: duration(60, 3600).default(300).describe('how often it is called'),
  expect: z.string().min(1).max(200).optional().describe('a text that the answer must contain, so that the page of a network portal is not taken for it'),
  allow,
});
export type Heartbeat = z.infer<typeof Heartbeat>;
