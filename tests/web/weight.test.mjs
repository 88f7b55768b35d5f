import assert from 'node:assert/strict';
import { test } from 'node:test';

import { fromKg, toKg, usualUnit } from '../../web/phone/weight.js';

test('a pound is 0.45359237 kg (the international agreement of 1959)', () => assert.equal(toKg(100, 'lb'), 45.36));

test('what was typed in pounds comes back as it was typed', () => {
  for (let pounds = 5; pounds <= 880; pounds += 0.5) assert.equal(fromKg(toKg(pounds, 'lb'), 'lb'), pounds);
});

test('nothing stays nothing', () => assert.deepEqual([toKg(null, 'lb'), fromKg(undefined, 'kg')], [null, null]));

test('pounds are usual where they are', () => assert.deepEqual([usualUnit('en-US'), usualUnit('en-GB'), usualUnit('de')], ['lb', 'kg', 'kg']));
