import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';

import { evaluate } from '../../web/shared/safety.js';

const RULES = JSON.parse(readFileSync(new URL('../../web/shared/safety-rules.json', import.meta.url)));
const said = (more) => ({ id: 'c', date: '2025-09-15', skin: [], signs: [], weight_kg: null, ...more });
const levels = (checkin, about) => evaluate(RULES, checkin, about).map((advice) => advice.level);
const red = (redness_minutes) => said({ skin: [{ place: 'calf', finding: 'redness', redness_minutes }] });

test('a fine day gets no advice', () => assert.deepEqual(levels(said()), []));

test('a blister stops the wearing, however short the redness (Gillette Children’s, patient page)', () => {
  assert.deepEqual(levels(said({ skin: [{ place: 'calf', finding: 'blister', redness_minutes: 5 }] })), ['stop_wear']);
});

test('redness of 20 minutes is let be, of 21 minutes is a call (Gillette Children’s and Shirley Ryan AbilityLab, patient pages; limit 20)', () => {
  assert.deepEqual([levels(red(20)), levels(red(21))], [[], ['call_clinic']]);
});

test('the clinic’s own redness limit counts', () => assert.deepEqual(levels(red(15), { redness_minutes: 10 }), ['call_clinic']));

test('fever with red skin is an emergency, and comes first', () => {
  assert.equal(levels({ ...red(5), signs: ['fever_or_shivering'] })[0], 'emergency');
});

test('a bony point stops a child’s wearing and asks an adult to call', () => {
  const point = said({ signs: ['bony_point'] });
  assert.deepEqual([levels(point, { born_on: '2017-01-01' }), levels(point, { born_on: '1960-01-01' })], [['stop_wear'], ['call_clinic']]);
});

test('a fast weight gain points to the heart team only where the heart is known to be weak', () => {
  const earlier = [{ id: 'b', date: '2025-09-14', weight_kg: 80 }];
  const heavy = said({ weight_kg: 81.5 });
  assert.deepEqual([levels(heavy, { tags: ['heart_failure'], earlier }), levels(heavy, { earlier })], [['heart_team'], []]);
});

test('a rule this app does not understand is never passed over in silence', () => {
  assert.throws(() => evaluate({ rules: [{ id: 'x', level: 'emergency', when: { moon: 'full' } }] }, said()));
});

test('each entry is read by what held when it was written', () => {
  const before = [{ until: '2025-09-15T12:00:00.5+00:00', tags: ['blood_thinners'], born_on: null, redness_minutes: 10 }];
  const at = (hour, more) => said({ written_at: `2025-09-15T${hour}:00:00.000Z`, ...more });
  const ids = (checkin, about) => evaluate(RULES, checkin, about).map((one) => one.id);
  assert.deepEqual(ids(at('11', { falls: 1 }), { tags: [], before }), ['emergency-fall-blood-thinners']);
  assert.deepEqual(ids(at('13', { falls: 1 }), { tags: [], before }), []);
  assert.deepEqual(ids(said({ falls: 1, date: '2025-09-14' }), { tags: [], before }), ['emergency-fall-blood-thinners']);
  assert.deepEqual(ids({ ...red(15), written_at: '2025-09-15T11:00:00Z' }, { before }), ['redness-long']);
  assert.deepEqual(ids({ ...red(15), written_at: '2025-09-15T13:00:00Z' }, { before }), []);
});
