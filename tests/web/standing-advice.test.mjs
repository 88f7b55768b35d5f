import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';

import { evaluate } from '../../web/shared/safety.js';
import { latestAnswers, standingAdvice } from '../../web/phone/standing-advice.js';

const RULES = JSON.parse(readFileSync(new URL('../../web/shared/safety-rules.json', import.meta.url)));
const danger = RULES.danger_signs;
const advise = (row) => evaluate(RULES, row.checkin, {});
const day = (n) => `2025-09-${String(n).padStart(2, '0')}`;
const row = (n, said = {}, more = {}) => ({ id: `c${n}`, state: 'kept', line: [`c${n}`], checkin: { id: `c${n}`, date: day(n), skin: [], signs: [], comfort: 8, ...said }, ...more });
const BLISTER = { skin: [{ place: 'calf', finding: 'blister', redness_minutes: null }], skin_checked: true, signs_checked: true };
const CLEAR = { skin_checked: true, signs_checked: true };
const stands = (rows, about = {}) => standingAdvice(rows, { advise, danger, ...about }).map((one) => one.id);

test('advice stands on the days after, whatever else is logged', () => {
  assert.deepEqual(stands([row(1, BLISTER)]), ['stop-wear-skin']);
  assert.deepEqual(stands([row(1, BLISTER),
    ...[2, 3, 4, 5].map((n) => row(n, { skin_checked: false, signs_checked: true }))]), ['stop-wear-skin']);
});

test('two later clear days end it; one does not, nor two looks on one day, nor a look on the same day', () => {
  assert.deepEqual(stands([row(1, BLISTER), row(2, CLEAR)]), ['stop-wear-skin']);
  assert.deepEqual(stands([row(1, BLISTER), row(2, CLEAR), { ...row(2, CLEAR), id: 'again' }]), ['stop-wear-skin']);
  assert.deepEqual(stands([row(1, BLISTER), { ...row(1, CLEAR), id: 'later' }, row(2, CLEAR)]), ['stop-wear-skin']);
  assert.deepEqual(stands([row(1, BLISTER), row(2, CLEAR), row(4, CLEAR)]), []);
});

test('a day on which something was found as well is not clear', () => {
  const mixed = [row(3, CLEAR), { ...row(3, { ...CLEAR, skin: [{ place: 'calf', finding: 'callus' }] }), id: 'evening' }];
  assert.deepEqual(stands([row(1, BLISTER), row(2, CLEAR), ...mixed]), ['stop-wear-skin']);
});

test('a look without the question about danger is no clear look', () => {
  const unasked = [2, 3, 4].map((n) => row(n, { skin_checked: true, signs_checked: false }));
  assert.deepEqual(stands([row(1, BLISTER), ...unasked]), ['stop-wear-skin']);
});

test('before an app that asked, the skin alone was enough: an old sore does not come back with an update', () => {
  const old = { skin: BLISTER.skin, skin_checked: true };
  const clear = { skin_checked: true };
  assert.deepEqual(stands([row(1, old), row(2, clear), row(3, clear)]), []);
  assert.deepEqual(stands([row(1, old), row(2, clear), row(3, clear), row(9, CLEAR)]), []);
});

test('what the clinic refused does not clear anything', () => {
  assert.deepEqual(stands([row(1, BLISTER), row(2, CLEAR, { state: 'refused' }), row(3, CLEAR)]), ['stop-wear-skin']);
});

test('a sign of danger, or a rule that fires, is not clear', () => {
  const hot = { ...CLEAR, signs: ['hotter_than_other_side'] };
  assert.ok(stands([row(1, BLISTER), row(2, hot), row(3, CLEAR)]).includes('stop-wear-skin'));
  assert.ok(stands([row(1, BLISTER), row(2, { ...CLEAR, comfort: 1 }), row(3, CLEAR)]).includes('stop-wear-skin'));
});

test('the most urgent leads, and a rule that fired on several days stands once, for the latest', () => {
  const found = standingAdvice([row(1, BLISTER), row(2, BLISTER),
    row(3, { signs: ['confusion'], signs_checked: true })], { advise, danger });
  assert.deepEqual(found.map((one) => [one.id, one.row.id]), [['emergency-infection', 'c3'], ['stop-wear-skin', 'c2']]);
});

const done = (status, more = {}) => [{ rule: 'stop-wear-skin', checkins: ['c1'], status, on: day(2), answer: null, ...more }];

test('the clinic closes it for the entry it saw, not for a later one', () => {
  assert.deepEqual(stands([row(1, BLISTER)], { seen: done('closed') }), []);
  assert.deepEqual(stands([row(1, BLISTER), row(3, BLISTER)], { seen: done('closed') }), ['stop-wear-skin']);
});

test('what it closed stays closed when the entry is corrected, and other rules are not closed with it', () => {
  const corrected = row(1, { ...BLISTER, signs: ['severe_pain'] }, { id: 'c7', line: ['c1', 'c7'] });
  assert.deepEqual(stands([corrected], { seen: done('closed') }), ['stop-wear-pain']);
});

test('read by the clinic is not closed: the advice stands, with what was done', () => {
  const [found] = standingAdvice([row(1, BLISTER)], { advise, danger, seen: done('seen', { answer: 'Come on Friday.' }) });
  assert.deepEqual([found.id, found.clinic.answer], ['stop-wear-skin', 'Come on Friday.']);
});

test('an answer outlives the card for a week, and is shown once', () => {
  const seen = [...done('closed', { answer: 'All good now.' }), { rule: 'redness-long', checkins: ['c1'], status: 'closed', on: day(2), answer: 'All good now.' }];
  assert.deepEqual(latestAnswers(seen, [], day(9)).map((one) => one.answer), ['All good now.']);
  assert.deepEqual(latestAnswers(seen, [], day(10)), []);
  const standing = standingAdvice([row(1, BLISTER)], { advise, danger, seen: done('seen', { answer: 'Come on Friday.' }) });
  assert.deepEqual(latestAnswers(done('seen', { answer: 'x' }), standing, day(3)).length, 1);
  assert.deepEqual(latestAnswers([standing[0].clinic], standing, day(3)), []);
});

test('years of log cost no more than its last days', () => {
  let asked = 0;
  const rows = Array.from({ length: 900 }, (_, i) => ({ ...row(1, CLEAR), id: `r${i}`, checkin: { ...row(1, CLEAR).checkin, date: new Date(Date.UTC(2023, 0, 1 + i)).toISOString().slice(0, 10) } }));
  standingAdvice(rows, { danger, advise: () => (asked += 1, []) });
  assert.ok(asked <= 3, `${asked}`);
});
