import { describe, expect, test } from 'vitest';
import { ErrorBody } from '../../../shared/schema/api.ts';
import { serverUnderTest } from './rig-under-test.ts';

describe('a question about a rule', () => {
  const ask = async (payload: object) => {
    const under = await serverUnderTest();
    return { ...under, response: await under.app.inject({ method: 'POST', url: '/api/rule-preview', payload }) };
  };
  const entry = { id: 'mine', when: { watch: 'bank.socPct', below: 50 }, priority: 'low' };

  test('reaches the rig, over 30 nights where nothing else is said, and is answered night by night', async () => {
    const { previews, response } = await ask({ entry });
    expect(previews).toEqual([{ entry, nights: 30 }]);
    expect([response.statusCode, response.json().nights.length]).toEqual([200, 30]);
  });

  test.each([{}, { entry: { id: 'Mine' } }, { entry, nights: 0 }, { entry: { ...entry, colour: 'red' } }])('%j is refused as invalid', async (payload) => {
    const { previews, response } = await ask(payload);
    expect([response.statusCode, ErrorBody.parse(response.json()).code, previews.length]).toEqual([400, 'REQUEST_INVALID', 0]);
  });
});
