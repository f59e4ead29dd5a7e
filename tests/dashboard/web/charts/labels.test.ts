import fc from 'fast-check';
import { expect, it } from 'vitest';
import { footOrHead, placeLabels } from '../../../../dashboard/web/src/charts/labels.ts';

it('puts a label beside its line, on the other side at an edge, and higher where it would cover another', () => {
  const places = placeLabels(
    [
      { x: 500, width: 100, side: 'left' },
      { x: 530, width: 100, side: 'right' },
      { x: 480, width: 100, side: 'at' },
    ],
    0,
    600,
  );
  expect(places).toEqual([
    { left: 392, row: 0 },
    { left: 422, row: 1 },
    { left: 480, row: 2 },
  ]);
});

it('lays no label across the upright of now where there is room beside it', () => {
  const wishes = [
    { x: 80, width: 140, side: 'at' as const },
    { x: 290, width: 90, side: 'left' as const },
    { x: 300, width: 95, side: 'right' as const },
  ];
  const places = placeLabels(wishes, 60, 345, 214);
  expect(places).toEqual([
    { left: 66, row: 0 },
    { left: 222, row: 0 },
    { left: 222, row: 1 },
  ]);
});

it('keeps every label inside and off the others', () => {
  const wish = fc.record({
    x: fc.integer({ min: 0, max: 400 }),
    width: fc.integer({ min: 20, max: 150 }),
    side: fc.constantFrom('left', 'right', 'at' as const),
  });
  fc.assert(
    fc.property(fc.array(wish, { maxLength: 5 }), (wishes) => {
      const boxes = placeLabels(wishes, 0, 400).map((p, i) => ({ ...p, right: p.left + (wishes[i]?.width ?? 0) }));
      for (const [i, box] of boxes.entries()) {
        expect(box.left).toBeGreaterThanOrEqual(0);
        expect(box.right).toBeLessThanOrEqual(400);
        for (const other of boxes.slice(0, i)) expect(other.row !== box.row || other.right <= box.left || box.right <= other.left).toBe(true);
      }
    }),
  );
});

it('stands at the foot unless the curve is in the way there and leaves more room at the head', () => {
  expect(footOrHead([], 20)).toBe('foot');
  expect(footOrHead([60, 45], 20)).toBe('foot');
  expect(footOrHead([60, 15], 20)).toBe('head');
  expect(footOrHead([95, 15], 20)).toBe('foot');
});
