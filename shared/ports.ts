import type { Notice } from './schema/notice.ts';
import type { Reading } from './schema/reading.ts';
import type { Route } from './schema/routes.ts';
import type { EpochMs } from './units.ts';

/** Time as the engine gets it: delays run on `monoMs`, which never goes back within a `bootId`; `wallMs` is for people and series. */
export interface EngineTime {
  readonly wallMs: EpochMs;
  readonly monoMs: number;
  readonly bootId: string;
  /** False while the wall clock is not known to be right. */
  readonly clockSure: boolean;
}

/** Where the process takes time from. Live: the system's. Replay: the recording's. */
export interface Clock {
  now(): EngineTime;
}

/** Readings of one signal, oldest first. */
export interface SeriesRange {
  readonly tMs: readonly EpochMs[];
  readonly value: readonly number[];
  /** True where the reading is shown but kept out of learning; the others are ok. */
  readonly suspect: readonly boolean[];
}

/** One bucket; without readings count is 0 and the rest null. */
export interface Bucket {
  readonly fromMs: EpochMs;
  readonly min: number | null;
  readonly mean: number | null;
  readonly max: number | null;
  readonly count: number;
  /**
   * Mean over time: each value counts until the next one, the last of a quarter hour no longer than the longest pause before it. Only in
   * buckets of half an hour or wider, from the whole quarter hours (of 2 h or wider: hours) in them, and only where it differs from the plain mean by a hundredth
   * of the spread, because readings lie unevenly. An adapter without such rollups never gives it.
   */
  readonly timeMean?: number;
}

/** Minutes as columns: least, mean and greatest of each, NaN where there is no reading. */
export interface MinuteColumns {
  readonly min: Float64Array;
  readonly mean: Float64Array;
  readonly max: Float64Array;
}

/** What an adapter declares it cannot or can do; the contract suite skips by it. */
export interface StoreSupports {
  /** Survives the process. */
  readonly durable: boolean;
  /** Keeps two readings of one signal at one time apart when their times are of arrival. */
  readonly equalTimes: boolean;
  /** Keeps the order of arrival: of two readings of one device time the later arrival wins however they were appended, and `latest` tells it. */
  readonly arrivalOrder: boolean;
  /** Gives every value back to the last bit; otherwise to about 15 digits of the larger ones around it. */
  readonly exact: boolean;
  /** Drops old readings when told to, and keeps their rollups; otherwise `retain` does nothing and the server drops them by its own settings. */
  readonly retains: boolean;
}

/** The store port (design section 4.4). Every method rejects with STORE_CLOSED when not open; STORE_FAILED with its cause when the engine under it fails. */
export interface TimeSeriesStore {
  readonly supports: StoreSupports;
  open(): Promise<void>;
  /**
   * Adds readings in one step: all or none. Two readings of the same rig, signal and device time: the later arrivalSeq wins.
   * The same readings again change nothing. `bad` readings are not stored; a value that is not finite rejects the batch with TypeError.
   * Resolves when they are safe (durable adapters: on disk).
   * An adapter may seal an hour of a signal some minutes after it is over, and lets go of some when the hour has 600 readings or more: times
   * of arrival are then rounded down to 0.1 s, and the numbers of arrivals are no longer known (0 in `latest`). From then on a reading of
   * the same device time replaces whatever is there, and one with a time of arrival is taken for the same when tenth of a second and value
   * are. Device times and values stay exact, and all of an hour of fewer readings. The sign of nought may be lost.
   */
  append(readings: readonly Reading[]): Promise<void>;
  /** Readings with fromMs <= tMs < toMs, at most `limit` (default 100,000), oldest first. */
  range(rigId: string, signal: string, fromMs: EpochMs, toMs: EpochMs, limit?: number): Promise<SeriesRange>;
  /**
   * `count` equal buckets over [fromMs, toMs). Where they are a minute or wider they come from rollups: a minute counts whole, in the
   * bucket in which it starts, the minute that holds fromMs in the first. Where they are 90 min, 6 h or 6 days or wider, the minutes of a
   * quarter hour, an hour or a day (UTC) count in the bucket in which that starts: an edge is moved by a sixth of a bucket at most, and
   * the whole range stays exact to the minute. Narrower ones come from raw readings.
   */
  buckets(rigId: string, signal: string, fromMs: EpochMs, toMs: EpochMs, count: number): Promise<readonly Bucket[]>;
  /**
   * The minutes of [fromMs, toMs), which must lie on whole ones: what `buckets` of a minute give, for those who go through months of them.
   * The columns are the caller's own.
   */
  minutes(rigId: string, signal: string, fromMs: EpochMs, toMs: EpochMs): Promise<MinuteColumns>;
  /** The newest reading of each signal not after `notAfterMs`. */
  latest(rigId: string, notAfterMs: EpochMs): Promise<readonly Reading[]>;
  /** Drops raw readings of the whole minutes before `beforeMs`; rollups stay. Resolves with how many. */
  retain(rigId: string, beforeMs: EpochMs): Promise<number>;
  close(): Promise<void>;
}

/**
 * Small documents beside the series: engine state, learned models, alarm state, nights, projections, paired devices.
 * `put` of several is one transaction. Durable where the store is.
 */
export interface DocumentStore {
  get(kind: string, id: string): Promise<string | null>;
  put(entries: readonly { kind: string; id: string; tMs: EpochMs; body: string }[]): Promise<void>;
  /** Documents with fromMs <= tMs < toMs, newest last; when there are more than `limit` (default 10,000), the newest of them. */
  list(kind: string, fromMs: EpochMs, toMs: EpochMs, limit?: number): Promise<readonly { id: string; tMs: EpochMs; body: string }[]>;
  remove(kind: string, id: string): Promise<void>;
}

/** What a store says of itself. */
export interface StoreFacts {
  /** What keeps the data, with its version, such as `SQLite 3.50.4`. */
  readonly engine: string;
  /** Number of the layout that its file is in; null without a file. */
  readonly layout: number | null;
  /** Start of the oldest minute of which anything is kept; null while there is none. */
  readonly oldestMs: EpochMs | null;
  readonly documents: number;
}

/** A series store with documents in the same transaction space. */
export interface RigStore extends TimeSeriesStore, DocumentStore {
  /** For people: how much is kept, and how. Holds up neither appends nor puts. */
  facts(rigId: string): Promise<StoreFacts>;
}

/** How an attempt ended. `later` may be tried again, at the earliest after `afterMs` where the other side said so; `never` not; `gone`: nor the target. */
export type SendResult =
  | { readonly kind: 'sent'; readonly detail: string }
  | { readonly kind: 'later'; readonly reason: string; readonly afterMs?: number }
  | { readonly kind: 'never'; readonly reason: string }
  | { readonly kind: 'gone'; readonly reason: string };

/** Somebody or something that a route reaches; a route that is one has one with id ''. */
export interface SendTarget {
  readonly id: string;
  readonly name: string;
}

/**
 * A way that a notice goes out. Nothing it does takes longer than its signal lets it, and no method rejects: what goes wrong is a result,
 * with a reason in plain words that holds no secret.
 */
export interface Sender {
  readonly kind: Route['kind'];
  /** Reaches beyond the rig. */
  readonly remote: boolean;
  targets(): readonly SendTarget[];
  send(notice: Notice, targetId: string, signal: AbortSignal): Promise<SendResult>;
  /** Whether a notice would get through now, found out without telling anybody anything. */
  probe(signal: AbortSignal): Promise<SendResult>;
  close(): Promise<void>;
}
