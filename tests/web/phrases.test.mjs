import assert from 'node:assert/strict';
import { test } from 'node:test';

import { aboutLimb, trendCode } from '../../web/phone/ui/phrases.js';
import { LANGUAGES, speak } from '../../web/phone/words.js';

const view = (role, trend) => ({ role, person: { name: 'Isla Marchbank' }, seen: { a: { trend } } });
const words = (role, trend) => {
  const code = trendCode(view(role, trend), { id: 'a' });
  return aboutLimb(view(role, trend), `story.trend.${code}`, `story.trend.of.${code}`);
};

test('to a caregiver the phone speaks of the one they care for, to the wearer of their own limb', async () => {
  for (const name of Object.keys(LANGUAGES)) {
    await speak(name);
    for (const words_code of ['smaller', 'larger', 'same', 'unknown']) {
      assert.match(words('caregiver', { words_code }), /Isla/, name);
      assert.doesNotMatch(words('caregiver', { words_code }), /Marchbank/);
      assert.doesNotMatch(words('wearer', { words_code }), /Isla/);
    }
  }
  await speak('en');
  assert.equal(words('caregiver', { words_code: 'smaller' }), 'Isla’s leg is a little smaller than four weeks ago.');
});

test('a limb nothing was logged of for long is not known, and not "too soon to say"', () => {
  assert.match(words('wearer', { words_code: 'unknown', why: 'quiet' }), /more than a week/);
  assert.match(words('wearer', { words_code: 'unknown', why: 'early' }), /too soon/);
  assert.match(words('wearer', undefined), /too soon/);
  assert.match(words('wearer', { words_code: 'same', why: null }), /same/);
});
