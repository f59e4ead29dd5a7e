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
  append(batch: Batch): void;
  put(entries: readonly DocumentEntry[]): void;
  remove(kind: string, id: string): void;
  dropSome(rigId: string, beforeMs: number): { dropped: number; more: boolean };
  close(): void;
}

/** What the reading worker does. */
export interface ReaderOperations extends Reader {
  open(): void;
  close(): void;
}

export interface WorkerStart {
  readonly role: 'writer' | 'reader';
  readonly path: string;
  /** The writer neither looks the file through nor sets it aside. */
  readonly guest: boolean;
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

export type Report = { readonly id: number; readonly result: unknown } | { readonly id: number; readonly failure: Failure } | { readonly setAside: string };
