import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';

import { evaluate } from '../../web/shared/safety.js';

const RULES = JSON.parse(readFileSync(new URL('../../web/shared/safety-rules.json', import.meta.url)));
const said = (more) => ({ id: 'c', date: '2025-09-15', skin: [], signs: [], weight_kg: null, ...more });
const levels = (checkin, about) => evaluate(RULES, checkin, about).map((advice) => advice.level);
const red = (redness_minutes) => said({ skin: [{ place: 'calf', finding: 'redness', redness_minutes }] });

test('a fine day gets no advice', () => assert.deepEqual(levels(said()), []));

test('a blister stops the wearing, however short the redness (a children’s hospital leaflet)', () => {
  assert.deepEqual(levels(said({ skin: [{ place: 'calf', finding: 'blister', redness_minutes: 5 }] })), ['stop_wear']);
});

test('redness of 20 minutes is let be, of 21 minutes is a call (two hospital leaflets, limit 20)', () => {
  assert.deepEqual([levels(red(20)), levels(red(21))], [[], ['call_clinic']]);
});

test('the clinic’s own redness limit counts', () => assert.deepEqual(levels(red(15), { redness_minutes: 10 }), ['call_clinic']));

test('fever with red skin is an emergency, and comes first', () => {
  assert.equal(levels({ ...red(5), signs: ['fever_or_shivering'] })[0], 'emergency');
});

test('a bony point stops a child’s wearing and says nothing to an adult', () => {
  const point = said({ signs: ['bony_point'] });
  assert.deepEqual([levels(point, { born_on: '2017-01-01' }), levels(point, { born_on: '1960-01-01' })], [['stop_wear'], []]);
});

test('a fast weight gain points to the heart team only where the heart is known to be weak', () => {
  const earlier = [{ id: 'b', date: '2025-09-14', weight_kg: 80 }];
  const heavy = said({ weight_kg: 81.5 });
  assert.deepEqual([levels(heavy, { tags: ['heart_failure'], earlier }), levels(heavy, { earlier })], [['heart_team'], []]);
});

test('a rule this app does not understand is never passed over in silence', () => {
  assert.throws(() => evaluate({ rules: [{ id: 'x', level: 'emergency', when: { moon: 'full' } }] }, said()));
});
