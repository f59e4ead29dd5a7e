import { AppError, reasonOf } from '../../../shared/errors.ts';
import { remedyFor } from '../disk-faults.ts';

/** A STORE_FAILED that says what could not be done, why and what to do. TypeErrors, mistakes of the caller, stay as they are. */
export function storeFailure(action: string, path: string, cause: unknown): Error {
  if (cause instanceof AppError || cause instanceof TypeError) return cause;
  const code = String((cause as { code?: unknown } | null)?.code ?? '');
  const remedy = remedyFor(cause);
  const why = `${reasonOf(cause)}${code === '' ? '' : ` (${code})`}`;
  return new AppError('STORE_FAILED', `the store could not ${action} in ${path}: ${why}${remedy ? `; ${remedy}` : ''}`, { cause });
}
