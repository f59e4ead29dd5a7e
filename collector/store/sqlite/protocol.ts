import type { Batch } from './batch.ts';
import type { Reader } from './read.ts';

/** One document to be put. */
export interface DocumentEntry {
  readonly kind: string;
  readonly id: string;
  readonly tMs: number;
  readonly body: string;
}

/** What the writing worker does. Each is one transaction. */
export interface WriterOperations {
  /** Opens the file (again). */
  open(): void;
  /** Opens the file again and looks through all of it. */
  lookThrough(): void;
  append(batch: Batch): void;
  put(entries: readonly DocumentEntry[]): void;
  remove(kind: string, id: string): void;
  /** Brings in some more of a damaged file that was set aside, moves some of what an earlier layout left, or drops some of a file that is too large; false: nothing is left to do. */
  tidySome(): boolean;
  dropSome(rigId: string, beforeMs: number): { dropped: number; more: boolean };
  close(): void;
}

/** What the reading worker does. */
export interface ReaderOperations extends Reader {
  open(): void;
  close(): void;
}

/** What the worker for whole files does. */
export interface FileOperations {
  /** Copies a store, also one that is being written to, as it is at one moment, into a new file: all but some kinds of documents, and with others. */
  copy(from: string, to: string, without: readonly string[], add: readonly DocumentEntry[]): void;
  /** Looks a file through that came from anywhere. */
  inspect(path: string, about: { readonly kind: string; readonly id: string }): Inspection;
  /** Removes a document from a file that nobody has open, and takes over documents of some kinds from another store in place of its own. */
  adopt(path: string, remove: { readonly kind: string; readonly id: string }, from: string | null, kinds: readonly string[]): void;
}

/** What was found in a file. */
export interface Inspection {
  /** `newer`: a store in a layout that is not known here; `foreign`: no store of ours; `damaged`: not whole. */
  readonly verdict: 'whole' | 'newer' | 'foreign' | 'damaged';
  readonly nights: number;
  /** The document that was asked for; null when it is not there. */
  readonly about: string | null;
}

export interface WorkerStart {
  /** `files`: whole files, whichever the calls name. */
  readonly role: 'writer' | 'reader' | 'files';
  readonly path: string;
  /** The writer neither looks the file through nor sets it aside. */
  readonly guest: boolean;
  /** Size to which the writer keeps the file, by dropping the oldest readings; null: no such limit. */
  readonly mostBytes: number | null;
}

export interface Request {
  readonly id: number;
  readonly operation: string;
  readonly args: readonly unknown[];
}

/** An error as it crosses threads: the code would be lost from an Error. */
export interface Failure {
  readonly message: string;
  readonly code: string;
}

/** Unasked for: where a damaged file was set aside, and how many readings did not come back as they were written. */
export type Report =
  | { readonly id: number; readonly result: unknown }
  | { readonly id: number; readonly failure: Failure }
  | { readonly setAside: string }
  | { readonly lost: number };
