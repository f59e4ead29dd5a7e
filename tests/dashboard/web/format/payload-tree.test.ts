import { describe, expect, it } from 'vitest';
import { type Field, likeliest, treeLines } from '../../../../dashboard/web/src/format/payload-tree.ts';
import type { TopicView } from '../../../../shared/schema/sensor-book.ts';

const json = (pointer: string, more: Partial<Field> = {}): Field => ({
  format: 'json',
  pointer,
  text: '1',
  number: 1,
  unit: null,
  usedBy: null,
  likely: [],
  ...more,
});
const lines = (...fields: Field[]) => treeLines(fields).map(({ depth, name, field }) => `${'  '.repeat(depth)}${name}${field ? '' : ':'}`);

describe('a payload as lines', () => {
  it('shows groups once, before what stands in them', () => {
    expect(lines(json('/v'), json('/b/cells/0'), json('/b/cells/1'), json('/b/t'), json('/c/t'))).toEqual([
      'v',
      'b:',
      '  cells:',
      '    0',
      '    1',
      '  t',
      'c:',
      '  t',
    ]);
  });
  it('unescapes names, and opens a group again that was closed', () => {
    expect(lines(json('/a~1b~0/x'), json('/y'), json('/a~1b~0/z'))).toEqual(['a/b~:', '  x', 'y', 'a/b~:', '  z']);
  });
  it('names records by their names and a bare value by what it is', () => {
    expect(lines({ ...json(''), format: 'senml', name: 'out/t' }, { ...json(''), format: 'number' })).toEqual(['out/t', 'value']);
  });
  it('tells every line apart', () => {
    const ids = treeLines([json('/a'), json('/a/b'), { ...json(''), format: 'senml', name: '/a' }]).map(({ id }) => id);
    expect(new Set(ids).size).toBe(ids.length);
  });
});

describe('the likeliest field for a signal', () => {
  const guess = (signal: string) => ({ signal, unit: 'A', why: '' });
  const view = (topic: string, ...fields: Field[]): TopicView => ({ topic, count: 1, lastMs: 0, retained: false, payload: '', isCut: false, fields });
  it('is the one that puts it first, and one that nothing else reads', () => {
    const topics = [
      view('a', json('/x', { likely: [guess('panels.current'), guess('bank.current')] })),
      view('b', json('/y', { likely: [guess('bank.current')], usedBy: 'load.pump.power' })),
      view('c', json('/z', { likely: [guess('bank.current')] })),
    ];
    expect(likeliest('bank.current', topics)).toMatchObject({ topic: 'c', field: { pointer: '/z' } });
    expect(likeliest('bank.current', topics.slice(0, 2))).toMatchObject({ topic: 'a' });
    expect(likeliest('place.lat', topics)).toBeNull();
  });
});
