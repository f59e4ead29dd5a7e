import { createPipeline, type Pipeline } from '../../../collector/ingest/pipeline.ts';
import type { Reading } from '../../../shared/schema/reading.ts';
import { RigFile } from '../../../shared/schema/rig-file.ts';

export const T0 = Date.UTC(2026, 5, 1, 22);

/** A rig file with the two required signals on one shunt topic, and others. */
export function rigFile(signals: Record<string, unknown> = {}, cells = 4, chemistry = 'LiFePO4'): RigFile {
  return RigFile.parse({
    rig: { id: 'heron', name: 'Heron' },
    bank: { chemistry, cells, capacityAh: 200 },
    signals: {
      'bank.voltage': { topic: 'rig/shunt', format: 'json', pointer: '/v' },
      'bank.current': { topic: 'rig/shunt', format: 'json', pointer: '/i' },
      ...signals,
    },
  });
}

export interface Bench {
  readonly pipeline: Pipeline;
  /** Sends a payload (an object as JSON) at T0 plus seconds. */
  send(topic: string, payload: unknown, atS: number, retained?: boolean): readonly Reading[];
  /** Reasons and counts of a signal's rejections and remarks, with its note. */
  health(signal: string): { rejected: Record<string, number>; remarks: Record<string, number>; note: string };
}

export function bench(signals: Record<string, unknown> = {}, cells = 4, chemistry = 'LiFePO4'): Bench {
  const pipeline = createPipeline(rigFile(signals, cells, chemistry));
  return {
    pipeline,
    send(topic, payload, atS, retained = false) {
      const bytes = payload instanceof Uint8Array ? payload : Buffer.from(typeof payload === 'string' ? payload : JSON.stringify(payload));
      return pipeline.accept({ tMs: T0 + atS * 1000, topic, payload: bytes, retained }).readings;
    },
    health(signal) {
      const found = pipeline.report(T0).signals.find(({ name }) => name === signal);
      if (!found) throw new Error(`no ${signal}`);
      return {
        rejected: Object.fromEntries(found.rejected.map(({ reason, count }) => [reason, count])),
        remarks: Object.fromEntries(found.remarks.map(({ remark, count }) => [remark, count])),
        note: found.note,
      };
    },
  };
}

/** Value and quality of readings, for short comparisons. */
export const brief = (readings: readonly Reading[]): string[] =>
  readings.map(({ signal, value, quality, reason }) => `${signal} ${value} ${quality}${reason === undefined ? '' : ` ${reason}`}`);
