import { z } from 'zod';
import { ANYWAY } from './anyway.ts';

/** `copyTo` in the rig file: a server that gets a copy of every reading. */
export const CopyTo = z
  .strictObject({
    kind: z
      .enum(['influx', 'line-protocol'])
      .describe('influx: InfluxDB 2; line-protocol: VictoriaMetrics, or another server that takes line protocol and needs no organisation and bucket'),
    url: z
      .string()
      .max(512)
      .regex(/^https?:\/\/[^\s/]+/, 'a URL such as https://data.example.org:8086 or http://192.168.1.5:8428')
      .refine((u) => !/\/\/[^/]*@/.test(u), 'no user name or password in the file: DAWNHOLD_COPY_USER and DAWNHOLD_COPY_PASSWORD in the environment')
      .describe(
        'where the server is. What it knows you by comes from the environment, or from a file that the same name with _FILE names: DAWNHOLD_COPY_TOKEN, or DAWNHOLD_COPY_USER and DAWNHOLD_COPY_PASSWORD',
      ),
    org: z.string().min(1).max(128).optional().describe('influx: the organisation, by name or id'),
    bucket: z.string().min(1).max(128).optional().describe('influx: the bucket, by name or id'),
    perSecond: z
      .int()
      .min(100)
      .max(100_000)
      .default(2000)
      .describe(
        'most readings a second while what the server missed is made up for; what is measured now goes first all the same. About 10 bytes each on the line',
      ),
    keepMb: z
      .number()
      .min(1)
      .max(100_000)
      .default(500)
      .describe('most room on the disk for what the server has not taken, MB; beyond it the oldest is dropped. 20 readings a second fill about 16 MB a day'),
  })
  .superRefine((value, context) => {
    for (const key of ['org', 'bucket'] as const) {
      const message = value.kind === 'influx' ? `the ${key}, since kind is influx` : 'kind: influx beside it';
      if ((value.kind === 'influx') !== (value[key] !== undefined)) context.addIssue({ code: 'custom', path: [key], message, input: value[key] });
    }
  }, ANYWAY)
  .describe('a server that gets a copy of every reading; it may be away for weeks. What this rig shows and decides never depends on it');
export type CopyTo = z.infer<typeof CopyTo>;
