/** A mistake in the alarms of a rig file; `path` within `alarms`. */
export interface RuleIssue {
  readonly path: readonly (string | number)[];
  /** What was got, where the value at the path does not say it. */
  readonly got?: string;
  readonly expected: string;
  readonly hint: string;
}
