import assert from 'node:assert/strict';
import { test } from 'node:test';

import { byPlace, padShape, padSize } from '../../web/clinic/ui/bodymap.js';
import { skinWords } from '../../web/clinic/ui/evidence.js';
import { workWords } from '../../web/clinic/ui/plots.js';
import { placeWords } from '../../web/shared/places.js';

test('staff read anatomy where a phone kept a code', () => {
  assert.equal(skinWords({ place: 'outer_bump', finding: 'open_skin', redness_minutes: null }), 'open skin, fibular head');
  assert.equal(workWords('pad', { thickness_mm: 1.5, place: 'shin_front' }), 'Pad, 1.5 mm, tibial crest');
});

test('words kept before the rename are drawn at the same place', () => {
  const line = (place) => ({ date: '2025-09-01', skin: [{ place, finding: 'redness', redness_minutes: 5 }] });
  const found = byPlace([line('outer_bump'), line('bony bump on the outer side'), line('fibular head')]);
  assert.deepEqual(found.map(({ place, words, days }) => [place, words, days.length]), [['outer_bump', 'fibular head', 3]]);
  assert.equal(workWords('pad', { thickness_mm: 1, place: 'front of the shin' }), 'Pad, 1 mm, tibial crest');
});

test('a place in somebody’s own words stays theirs, and none is said as a code', () => {
  assert.equal(placeWords('just above the scar'), 'just above the scar');
  assert.equal(placeWords('some_new_place'), 'some new place');
  assert.equal(placeWords(null), '');
});

test('no code leaks as what was done', () => {
  assert.equal(workWords('intervention', { kind: 'suspension_switched', note: 'Pin lock to suction' }), 'Suspension switched: Pin lock to suction');
  assert.equal(workWords('intervention', { kind: 'odd_old_code', note: null }), 'odd old code');
  assert.equal(workWords('intervention', { kind: 'Relief made', note: null }), 'Relief made');
});

test('a pad is drawn as large as it was entered, and no pad grows over the limb', () => {
  const drawn = (pad) => [...String(padShape(60, 100, { thickness_mm: 4, ...pad }))
    .matchAll(/(?:width|height)="([\d.]+)"/g)].map(([, size]) => Number(size));
  assert.deepEqual(drawn({}), [20, 14]);
  assert.deepEqual(drawn({ length_mm: 70, width_mm: 30 }), [21, 49]);
  assert.deepEqual(drawn({ length_mm: 300, width_mm: 5 }), [8, 60]);
  assert.equal(padSize({ length_mm: 70, width_mm: 30, thickness_mm: 4 }), '70 × 30 × 4 mm');
  assert.equal(padSize({ length_mm: null, width_mm: null, thickness_mm: 1.5 }), '1.5 mm thick');
});
