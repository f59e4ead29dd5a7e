/** Every error code with what it means. DEVELOPERS.md lists the same codes; a test keeps the two equal. */
export const ERROR_CODES = {
  RIG_FILE_INVALID: 'the rig file does not fit the schema; every mistake is in `issues`',
  RIG_FILE_MISSING: 'the rig file cannot be read',
  RIG_FILE_CHANGED: 'the rig file changed since it was read; read it again and repeat the edit',
  SECRET_MISSING: 'a secret that the rig file asks for is not in the environment or its file',
  BROKER_REFUSED: 'the embedded broker may not listen there without credentials',
  CERTIFICATE_INVALID: 'the certificate or its key cannot be read or served',
  PORT_TAKEN: 'another program listens on the port',
  DATA_IN_USE: 'another Dawnhold runs on the same data folder',
  STORE_CLOSED: 'the store was used after it was closed or before it was open',
  STORE_FAILED: 'the store could not keep or read data',
  RECORDING_INVALID: 'a line of the recording does not fit the format',
  BACKUP_INVALID: 'the file is no backup that this Dawnhold can restore',
  IMPORT_INVALID: 'the file is none that can be imported',
  NO_ROOM: 'the disk has too little room for it',
  NOT_HERE: 'this cannot be done in the demo, with a recording or with the store that is set',
  REQUEST_INVALID: 'a request does not fit its schema',
  REQUEST_FOREIGN: 'a request came under a foreign host name or from a page of another origin',
  COMMAND_EXPIRED: 'a command arrived after its expiry',
  NOT_PAIRED: 'the device is not paired with this rig, or its role does not allow this',
  TOO_MANY_TRIES: 'too many pairing codes were tried from one address',
  TOO_BUSY: 'more is asked at a time than this box can work on',
  NOT_FOUND: 'there is no such thing here',
  INTERNAL: 'something failed that should not; the log says what',
} as const;
export type ErrorCode = keyof typeof ERROR_CODES;

/** One mistake found at a boundary: where, what was got, what was expected. */
export interface Issue {
  /** Place in a file as `name:line:column`, or '' where there is none. */
  readonly place: string;
  /** Path of the value, as `signals.bank.voltage.unit`. */
  readonly path: string;
  readonly got: string;
  readonly expected: string;
  /** What to do, such as the nearest right key; '' when the expectation says it all. */
  readonly hint: string;
}

/** An error at a boundary: a stable code, a message for people, and the mistakes found. */
export class AppError extends Error {
  readonly code: ErrorCode;
  readonly issues: readonly Issue[];
  constructor(code: ErrorCode, message: string, options: { cause?: unknown; issues?: readonly Issue[] } = {}) {
    super(message, options.cause === undefined ? undefined : { cause: options.cause });
    this.name = 'AppError';
    this.code = code;
    this.issues = options.issues ?? [];
  }
}

/** A short, safe text of any thrown value. */
export function reasonOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}
