import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { MAX_PUSH_BYTES, pushBody, readPushBody } from '../../shared/push-body.ts';
import { notice } from '../helpers/notice.ts';

const bytesOf = (value: unknown) => Buffer.byteLength(JSON.stringify(value));

describe('the body of a push message', () => {
  test('an ordinary notice goes whole, with where a tap leads', () => {
    const { expiresMs: _, ...rest } = notice();
    expect(pushBody(notice())).toEqual({ ...rest, path: '/#/alarms' });
  });

  test('what is too long loses helps from the end first, then the end of its text', () => {
    const helps = Array.from({ length: 6 }, (_, index) => `${index}${'h'.repeat(199)}`);
    const plain = pushBody(notice({ text: 'x'.repeat(500), helps }));
    expect(plain.helps).toEqual(helps.slice(0, plain.helps.length));
    expect(plain.helps.length).toBeGreaterThanOrEqual(4);
    expect(plain.text).toBe('x'.repeat(500));
    const wide = pushBody(notice({ text: '電'.repeat(500), title: '電'.repeat(100), helps }));
    expect(wide.helps).toEqual([]);
    expect(wide.text).toMatch(/^電{200,}…$/);
  });

  test('no notice is too long, none is cut within a letter, and each can be read again', () => {
    const text = (maxLength: number) => fc.string({ unit: 'binary', maxLength });
    fc.assert(
      fc.property(text(50), text(250), fc.array(text(100), { maxLength: 6 }), (title, long, helps) => {
        const body = pushBody(notice({ title, text: long.repeat(2).slice(0, 500), helps }));
        expect(bytesOf(body)).toBeLessThanOrEqual(MAX_PUSH_BYTES);
        expect(readPushBody(JSON.stringify(body))).toEqual(body);
      }),
    );
  });

  test.each(['', 'null', '[]', '{}', '7', '{"title":"x"}', '<html>'])('%j is no body', (text) => {
    expect(readPushBody(text)).toBeNull();
  });
});
