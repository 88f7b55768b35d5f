import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';

import { LANGUAGES, speak } from '../../web/phone/words.js';
import { wordsOf } from '../../web/phone/ui/advice.js';
import { causes, helpOf } from '../../web/phone/ui/help.js';

const RULES = JSON.parse(readFileSync(new URL('../../web/shared/safety-rules.json', import.meta.url))).rules;
const tags = ['diabetes', 'vascular', 'reduced_sensation', 'dialysis', 'heart_failure', 'blood_thinners'];
const everybody = { tags, child: false, unit: 'kg', redness_minutes: 20 };
const inWords = (level, who) => helpOf(RULES, who)
  .find((one) => one.level === level)?.groups.flatMap((group) => group.causes) ?? [];

for (const name of Object.keys(LANGUAGES)) {
  test(`every rule is told in Help, in words (${LANGUAGES[name]})`, async () => {
    await speak(name);
    for (const rule of RULES) {
      const own = [...causes(rule.when, everybody), ...causes(rule.when, { ...everybody, child: true })];
      assert.ok(own.length && own.every((words) => words && !/_|\{|\b(sign|finding|help)\./.test(words)), `${rule.id}: ${own}`);
    }
    await speak('en');
  });
}

test('what Help says to do is the advice itself', () => {
  const told = helpOf(RULES, everybody).flatMap(({ groups }) => groups.map((group) => group.text));
  const advice = new Set(RULES.map((rule) => wordsOf(rule, 'do')));
  assert.ok(told.length > 10 && told.every((text) => advice.has(text)));
});

test('no cause stands under two levels: the more urgent one has it', () => {
  const all = helpOf(RULES, everybody).flatMap(({ groups }) => groups.flatMap((group) => group.causes));
  assert.equal(new Set(all).size, all.length);
});

test('fever alone is a call, fever with a red limb an emergency, as on the card', () => {
  assert.ok(inWords('call_clinic', everybody).includes('Fever or shivering'));
  assert.ok(inWords('emergency', everybody).some((words) => words.startsWith('Fever or shivering.') && words.includes('Red or darker skin')));
});

test('what can’t be said of this person is not told them', () => {
  const nobody = { tags: [], child: false, unit: 'kg', redness_minutes: 20 };
  assert.deepEqual(inWords('heart_team', nobody), []);
  assert.ok(!inWords('emergency', nobody).includes('A fall'));
  assert.ok(inWords('emergency', { ...nobody, tags: ['blood_thinners'] }).includes('A fall'));
  assert.ok(!inWords('stop_wear', nobody).includes('A bony point at the end'));
  assert.ok(inWords('stop_wear', { ...nobody, child: true }).includes('A bony point at the end'));
});

test('the minutes of red skin are this person’s own', () => {
  const minutes = (who) => inWords('call_clinic', who).find((words) => words.startsWith('Red skin that stays'));
  assert.match(minutes({ ...everybody, tags: [] }), /20 minutes/);
  assert.match(minutes({ ...everybody, tags: ['diabetes'] }), /10 minutes/);
});
