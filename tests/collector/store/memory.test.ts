import { describe } from 'vitest';
import { createMemoryStore } from '../../../collector/store/memory.ts';
import { storeContract } from '../../contract/store.contract.ts';

describe('memory store', () => {
  storeContract(async () => ({ store: createMemoryStore(), remove: async () => undefined }));
});
