import assert from 'node:assert/strict';
import { test } from 'node:test';

import { atHeight, beyondTape, comparable, limitPct, oneHand, slips, volume } from '../../web/clinic/tape.js';

const levels = (...pairs) => pairs.map(([from_end_mm, circumference_mm]) => ({ from_end_mm, circumference_mm }));

test('a cylinder has the volume of a cylinder', () => {
  const girth = 2 * Math.PI * 50;
  const { ml } = volume(levels([0, girth], [100, girth]));
  assert.ok(Math.abs(ml - (Math.PI * 50 * 50 * 100) / 1000) < 1e-9);
});

test('a cone cut anywhere has the same volume, in any order', () => {
  const whole = volume(levels([0, 100], [120, 220])).ml;
  const cut = volume(levels([120, 220], [0, 100], [40, 140])).ml;
  assert.ok(Math.abs(whole - cut) < 1e-9);
});

test('five millimetres on every level is about the share the tape table gives', () => {
  // Volume error from tape error, limb 34 to 24 cm: ±5 mm is +3.30/−3.25 % (arithmetic, derived).
  const { ml, error_ml: error } = volume(levels([0, 240], [100, 290], [200, 340]));
  assert.ok(Math.abs((100 * error) / ml - 3.4) < 0.4);
});

test('fewer than two levels have no volume', () => {
  assert.equal(volume(levels([0, 240])), null);
});

test('only the same spacing is compared, wherever the lowest level lies', () => {
  assert.ok(comparable(levels([0, 1], [40, 1]), levels([10, 2], [50, 2])));
  assert.ok(!comparable(levels([0, 1], [40, 1]), levels([0, 1], [80, 1])));
  assert.ok(!comparable(levels([0, 1], [40, 1]), levels([0, 1], [40, 1], [80, 1])));
  assert.ok(!comparable(levels([0, 1]), levels([0, 1])));
});

test('a slip of the tape is asked about, an ordinary change is not', () => {
  const before = levels([0, 240], [40, 280], [80, 300]);
  assert.deepEqual(slips(levels([0, 236], [40, 275], [80, 296]), before), []);
  assert.equal(slips(levels([0, 236], [40, 175], [80, 296]), before).length, 1);
  assert.equal(slips(levels([0, 236], [40, 375], [80, 296]), null).length, 1);
});

test('a level is found by its height within a millimetre', () => {
  assert.equal(atHeight(levels([40, 280]), 40.6).circumference_mm, 280);
  assert.equal(atHeight(levels([40, 280]), 42), null);
});

test('what a tape can not tell is a share of the volume and depends on the hands', () => {
  for (const ml of [600, 2000, 3000]) {
    assert.ok(!beyondTape(ml, ml * 0.95, true));
    assert.ok(beyondTape(ml, ml * 0.925, true));
    assert.ok(!beyondTape(ml, ml * 0.925, false));
    assert.ok(beyondTape(ml, ml * 0.9, false));
  }
  assert.ok(limitPct(true) < limitPct(false));
});

test('sixteen to twenty-four millimetres less at four levels is a change in any hands', () => {
  const before = volume(levels([0, 300], [40, 321], [80, 357], [120, 332])).ml;
  const after = volume(levels([0, 284], [40, 301], [80, 333], [120, 314])).ml;
  assert.ok(beyondTape(before, after, false));
});

test('the same hand is a named one', () => {
  assert.ok(oneHand('Ida', ' ida '));
  assert.ok(!oneHand('', ''));
  assert.ok(!oneHand(null, undefined));
  assert.ok(!oneHand('Ida', 'Teodor'));
});
