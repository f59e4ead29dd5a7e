import type { Readable } from 'node:stream';
import type { SoundPermission } from '../../shared/live-version.ts';
import type { Advice, AdviceQuestion } from '../../shared/schema/advice.ts';
import type { AlarmBook, AlarmFigures, AlarmLog, LogQuery } from '../../shared/schema/alarm-book.ts';
import type { Command, CommandResult, History, HistoryQuery, LookBack, Receipt, SensorsReport, SocHistory } from '../../shared/schema/api.ts';
import type { DayRow } from '../../shared/schema/ledger.ts';
import type { LiveSnapshot, SignalState } from '../../shared/schema/live.ts';
import type { NightCurves, NightDetail, PlaceName } from '../../shared/schema/night-book.ts';
import type { NightRow } from '../../shared/schema/projection.ts';
import type { LogLines, RestoreAnswer, RigBook } from '../../shared/schema/rig-book.ts';
import type { RulePreview, RulePreviewQuestion } from '../../shared/schema/rule-preview.ts';
import type { MappingQuestion, MappingTrial, TopicView, ZeroQuery, ZeroView } from '../../shared/schema/sensor-book.ts';
import type { ExportQuery, TransferView } from '../../shared/schema/transfer.ts';
import type { EpochMs } from '../../shared/units.ts';

/** Parts of the live view that change as a whole; their names are keys of the snapshot and of the change. */
export const LIVE_PARTS = ['rig', 'flows', 'bank', 'projection', 'alarms', 'sun', 'health', 'plan', 'reach', 'watch'] as const;
export type LivePart = (typeof LIVE_PARTS)[number];

/** What changed, by name only; the values are fetched when they are sent. Signals are named by `SignalInfo.index`. */
export interface WhatChanged {
  /** The signals themselves are others now, so that indexes mean something else: every client gets a fresh snapshot. */
  readonly everything?: boolean;
  readonly signals?: readonly number[];
  readonly parts?: readonly LivePart[];
}

/** What the server needs of the alarms beside their part of the live view. */
export interface AlarmPort {
  /** All that is set up, without secrets. */
  alarmBook(): AlarmBook;
  /** The log's lines that a query asks for, newest first. */
  alarmLog(query: Omit<LogQuery, 'format'>): Promise<AlarmLog>;
  /** How well the alarms did with fromMs <= tMs < toMs. */
  alarmFigures(fromMs: EpochMs, toMs: EpochMs): Promise<AlarmFigures>;
  /** A device has shown a notice. Rejects with NOT_FOUND when no such notice went to it. */
  receipt(receipt: Receipt): Promise<void>;
  /** Whether an open screen may sound; null once it is gone. `clientId` names the connection. Quick, and does not throw. */
  tabletIs(clientId: string, permission: SoundPermission | null): void;
}

/** Readings out of the box and into it, one file at a time. */
export interface TransferPort {
  transfer(): TransferView;
  /** Readings as a file, read as it is sent. Rejects with NOT_FOUND when none are kept of what is asked for, with TOO_BUSY. `content` holds up the next file until it is read or destroyed. */
  exportReadings(query: ExportQuery): Promise<{ readonly name: string; readonly content: Readable }>;
  /** Takes a file in, and resolves before its readings are kept: `transfer` says what becomes of them. Rejects with NOT_HERE, NO_ROOM, TOO_BUSY. */
  importReadings(content: Readable, bytes: number | null): Promise<void>;
}

/** What the server needs of the rig's settings and of the box. */
export interface BoxPort extends TransferPort {
  /** All that is set up, without secrets and paths, and the box that it runs on. */
  rigBook(): Promise<RigBook>;
  /** The newest lines of the program's log, oldest first. */
  logLines(limit: number): LogLines;
  /** All that is kept and the rig file in one file. Rejects with NOT_HERE, NO_ROOM, TOO_BUSY while another is made. `content` takes up room until it is read or destroyed. */
  backup(withSecrets: boolean): Promise<{ readonly name: string; readonly bytes: number; readonly content: Readable }>;
  /**
   * Takes such a file in and looks it through; nothing is replaced before `proceed` is called, upon which the program starts anew.
   * Rejects with BACKUP_INVALID, NOT_HERE, NO_ROOM, TOO_BUSY. `bytes`: how long it will be, where that is known.
   */
  restore(content: Readable, bytes: number | null): Promise<{ readonly answer: RestoreAnswer; proceed(): void }>;
}

/** Rules looked at over the past. */
export interface PreviewPort {
  /** How a rule would have done. Rejects with REQUEST_INVALID for a mistake in the entry, with TOO_BUSY when a newer question takes its turn. */
  rulePreview(question: RulePreviewQuestion): Promise<RulePreview>;
}

/** What the server needs of past nights beside their rows. */
export interface NightPort {
  /** The state of charge of each night that ended in the range, thinned for a small picture, oldest first. */
  nightCurves(fromMs: EpochMs, toMs: EpochMs): Promise<NightCurves>;
  /** All that is kept of one night. Rejects with NOT_FOUND where no such night is kept. */
  night(nightId: string): Promise<NightDetail>;
  /** What people call places. */
  placeNames(): Promise<readonly PlaceName[]>;
  /** What people have noted of nights, by night. */
  nightNotes(): Promise<ReadonlyMap<string, string>>;
}

/** What the server needs of topics and signals beside the live view; all of it answers from memory. */
export interface SensorPort {
  /** The last message of a topic, named as the screens show it or by its exact text. Throws NOT_FOUND when none was heard. */
  topic(topic: string): TopicView;
  tryMapping(question: MappingQuestion): MappingTrial;
  /** Throws NOT_FOUND for a signal that the rig file does not name. */
  zero(query: ZeroQuery): ZeroView;
}

/**
 * What the server needs of a running rig; the composition root hands it in.
 * Synchronous getters answer from memory. Numbers that are not finite are sent as null, but better not handed over.
 */
export interface RigPort extends AlarmPort, BoxPort, NightPort, PreviewPort, SensorPort {
  /** The rig's time, epoch ms: what ages, `serverMs` and the expiry of commands are counted in (paced in a demo). */
  nowMs(): EpochMs;
  /** The whole live view as it stands. */
  snapshot(): LiveSnapshot;
  /** One part of the live view as it stands. */
  part<P extends LivePart>(name: P): LiveSnapshot[P];
  /** The state of one signal; null when there is no signal of that index. */
  state(index: number): SignalState | null;
  /** Calls the listener at every change until the returned function is called. The listener is quick and does not throw. */
  subscribe(listener: (what: WhatChanged) => void): () => void;
  /** Buckets of one signal. Rejects with NOT_FOUND for a signal that the rig file does not name. */
  history(query: HistoryQuery): Promise<History>;
  /** The estimated state of charge and powers with fromMs <= tMs < toMs. */
  soc(fromMs: EpochMs, toMs: EpochMs): Promise<SocHistory>;
  /** Ledger rows of nights that ended within fromMs <= endMs < toMs, oldest first. */
  nights(fromMs: EpochMs, toMs: EpochMs): Promise<readonly NightRow[]>;
  /** Ledger rows of calendar days that ended in the range, oldest first. */
  days(fromMs: EpochMs, toMs: EpochMs): Promise<readonly DayRow[]>;
  /** Nights in a row at one place, of those that ended in the range, and how the projections of the newest of them did. */
  lookBack(fromMs: EpochMs, toMs: EpochMs): Promise<LookBack>;
  /** What can be said of the night ahead. Rejects with NOT_FOUND before the first projection. */
  advise(question: AdviceQuestion): Promise<Advice>;
  sensors(): SensorsReport;
  /** Does a command that is not expired and not a repeat; `by` names the device for the record. Refusals are results, not errors. */
  command(command: Command, by: string): Promise<CommandResult>;
}
