import { expect, test } from 'vitest';
import { errorAnswer } from '../../../dashboard/server/errors.ts';
import { AppError } from '../../../shared/errors.ts';

test('a store that fails is said without the places on the box where its files lie', () => {
  const { status, body } = errorAnswer(
    new AppError('STORE_FAILED', 'the store could not read a document in /home/me/.data/heron/rig.sqlite: disk I/O error'),
    true,
  );
  expect([status, body.code]).toEqual([503, 'STORE_FAILED']);
  expect(body.message).toMatch(/cannot keep or read its data/);
  expect(JSON.stringify(body)).not.toMatch(/home|sqlite/);
});
