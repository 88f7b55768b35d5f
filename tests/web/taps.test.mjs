import assert from 'node:assert/strict';
import { test } from 'node:test';

import { PLACE, SLIP, tapsFilter, TWICE } from '../../web/phone/taps.js';

/** A finger that comes down and goes up; what the filter says of it. */
function tap(taps, time, key, { x = 100, y = 100, by = 0 } = {}) {
  taps.pressed({ x, y });
  return taps.judge({ time, x: x + by, y, key }).says;
}

test('a tap counts, and another key elsewhere right after it too', () => {
  const taps = tapsFilter();
  assert.deepEqual([tap(taps, 0, 'a'), tap(taps, 100, 'b', { y: 300 }), tap(taps, 200, 'c', { y: 500 })], ['take', 'take', 'take']);
});

test('while a screen settles nothing counts, nor a finger that came down then', () => {
  const taps = tapsFilter();
  taps.settle(true);
  assert.equal(tap(taps, 10, 'a'), 'early');
  taps.pressed({ x: 1, y: 1 });
  taps.settle(false);
  assert.equal(taps.judge({ time: 600, x: 1, y: 1, key: 'a' }).says, 'early');
  assert.equal(tap(taps, 700, 'a'), 'take');
});

test('a second tap counts as the first one again: on the same key, or on whatever has come to lie there', () => {
  const taps = tapsFilter();
  tap(taps, 0, 'a');
  assert.equal(tap(taps, TWICE - 1, 'a', { y: 400 }), 'again');
  const other = tapsFilter();
  tap(other, 0, 'a');
  assert.deepEqual([tap(other, 80, 'b', { x: 100 + PLACE - 1 }), tap(other, 160, 'b', { x: 100 + PLACE + 1 })], ['again', 'take']);
});

test('a thumb that goes on trembling has tapped once', () => {
  const taps = tapsFilter();
  const said = Array.from({ length: 8 }, (_, i) => tap(taps, i * 400, 'a'));
  assert.deepEqual(said, ['take', ...Array(7).fill('again')]);
  assert.equal(tap(taps, 7 * 400 + TWICE, 'a'), 'take');
});

test('a finger that slides is no tap', () => {
  const taps = tapsFilter();
  assert.deepEqual([tap(taps, 0, 'a', { by: SLIP + 2 }), tap(taps, 1, 'a', { by: SLIP })], ['slip', 'take']);
});

test('a keyboard or a switch has no place, and its second press on the same key is the first one again', () => {
  const taps = tapsFilter();
  const press = (time, key) => taps.judge({ time, x: 0, y: 0, key }).says;
  assert.deepEqual([press(0, 'a'), press(50, 'b'), press(100, 'b'), press(100 + TWICE, 'b')], ['take', 'take', 'again', 'take']);
});

test('what is no key is not held back: writing, choosing in a list', () => {
  const taps = tapsFilter();
  assert.deepEqual([tap(taps, 0, null), tap(taps, 50, null)], ['take', 'take']);
});

test('a second tap where the key has moved away from is the first one again, though nothing lies there', () => {
  const taps = tapsFilter();
  tap(taps, 0, 'sock');
  assert.deepEqual([tap(taps, 80, null, { x: 100 + PLACE - 1 }), tap(taps, 160, null, { y: 300 })], ['again', 'take']);
});
