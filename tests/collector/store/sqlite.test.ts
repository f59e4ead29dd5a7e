import { describe } from 'vitest';
import { storeContract } from '../../contract/store.contract.ts';
import { sqliteUnderTest } from './sqlite-under-test.ts';

describe('SQLite store', () => {
  storeContract(sqliteUnderTest);
});
