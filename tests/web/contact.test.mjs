import assert from 'node:assert/strict';
import { test } from 'node:test';

import { contactOf, openingAt, waysFor } from '../../web/phone/contact.js';

const HOURS = [{ days: [1, 2, 3, 4, 5], from: '08:00', to: '17:00' }];
const contact = (more = {}) => ({ phone: '555 0100', hours: HOURS, zone: 'Europe/Berlin', closed_on: [], emergency_number: '112', ...more });
const at = (text) => new Date(text); // an instant, with its own distance from UTC
const numbers = ({ keys }) => keys.map(({ kind, number }) => `${kind} ${number}`);

test('open and closed turn on the clinic’s own clock, to the minute', () => {
  const state = (when) => openingAt(contact(), at(when)).state;
  assert.deepEqual(['2025-09-15T05:59Z', '2025-09-15T06:00Z', '2025-09-15T14:59Z', '2025-09-15T15:00Z'].map(state), ['closed', 'open', 'open', 'closed']);
});

test('on a Saturday it opens on Monday at eight', () => {
  assert.deepEqual(openingAt(contact(), at('2025-09-13T12:00Z')).opens, { date: '2025-09-15', time: '08:00', ahead: 2 });
});

test('before it opens, it opens today; in a lunch break, after it', () => {
  assert.deepEqual(openingAt(contact(), at('2025-09-15T04:00Z')).opens, { date: '2025-09-15', time: '08:00', ahead: 0 });
  const lunch = contact({ hours: [{ days: [1], from: '08:00', to: '12:00' }, { days: [1], from: '13:30', to: '17:00' }] });
  assert.deepEqual(openingAt(lunch, at('2025-09-15T10:30Z')).opens, { date: '2025-09-15', time: '13:30', ahead: 0 });
});

test('a day the clinic named as closed is closed', () => {
  const monday = contact({ closed_on: ['2025-09-15'] });
  assert.deepEqual(openingAt(monday, at('2025-09-15T09:00Z')).opens, { date: '2025-09-16', time: '08:00', ahead: 1 });
});

test('the day is the clinic’s: Sunday evening there may be Monday here', () => {
  const far = contact({ zone: 'America/Los_Angeles' });
  assert.deepEqual(openingAt(far, at('2025-09-15T04:00Z')).opens, { date: '2025-09-15', time: '08:00', ahead: 1 });
});

test('a summer time that ends in the night moves nothing', () => {
  assert.deepEqual(openingAt(contact(), at('2025-10-26T12:00Z')).opens, { date: '2025-10-27', time: '08:00', ahead: 1 });
  assert.equal(openingAt(contact(), at('2025-10-27T07:00Z')).state, 'open');
});

test('a zone the phone does not know, or no hours at all, ends in no error', () => {
  assert.ok(['open', 'closed'].includes(openingAt(contact({ zone: 'Mars/Olympus' }), at('2025-09-15T09:00Z')).state));
  assert.equal(openingAt(contact({ hours: [] }), at('2025-09-15T09:00Z')).state, 'unknown');
  assert.deepEqual(openingAt(contact({ hours: [{ days: [], from: '08:00', to: '17:00' }] }), at('2025-09-15T09:00Z')), { state: 'unknown' });
  assert.equal(openingAt(contact({ hours: [{ days: [7], from: '08:00', to: '09:00' }], closed_on: ['2025-09-21', '2025-09-28'] }), at('2025-09-15T09:00Z')).opens, null);
});

test('an older server’s keys still serve: the clinic’s number as before, whatever the hour', () => {
  const old = contactOf({ phone: '555 0100', emergency_number: '144' });
  const ways = waysFor(['emergency', 'stop_wear'], { contact: old, now: at('2025-09-13T12:00Z') });
  assert.deepEqual(numbers(ways), ['emergency 144', 'clinic 555 0100']);
  assert.deepEqual(ways.says, []);
});

test('what the new server does not fill in falls back to the old keys', () => {
  const both = contactOf({ phone: '555 0100', emergency_number: '144',
    contact: { phone: null, emergency_number: null, hours: HOURS } });
  assert.deepEqual([both.phone, both.emergency_number, both.hours], ['555 0100', '144', HOURS]);
});

test('while it is closed the out-of-hours number takes the clinic’s place', () => {
  const ways = waysFor(['stop_wear'], { contact: contact({ out_of_hours_phone: '555 0199' }), now: at('2025-09-13T12:00Z') });
  assert.deepEqual(numbers(ways), ['out_of_hours 555 0199']);
  assert.deepEqual(ways.says.map((one) => one.what), ['closed']);
});

test('closed without such a number, it says what to do if it gets worse, with the emergency number', () => {
  const ways = waysFor(['call_clinic'], { contact: contact(), now: at('2025-09-13T12:00Z') });
  assert.deepEqual(numbers(ways), ['emergency 112']);
  assert.deepEqual(ways.says.map((one) => one.what), ['closed', 'worse']);
});

test('the heart team has its own number, and no key where none is kept', () => {
  const now = at('2025-09-15T09:00Z');
  assert.deepEqual(numbers(waysFor(['heart_team'], { contact: contact(), contacts: { heart_team_phone: '555 0144' }, now })), ['heart_team 555 0144']);
  const none = waysFor(['heart_team'], { contact: contact(), now });
  assert.deepEqual([numbers(none), none.says], [[], [{ what: 'no_heart_team' }]]);
});

test('no number has two keys, however it is written', () => {
  const same = contact({ phone: '555-0100', out_of_hours_phone: '(555) 0100' });
  const levels = ['emergency', 'stop_wear', 'heart_team', 'call_clinic'];
  const open = waysFor(levels, { contact: same, contacts: { heart_team_phone: '5550100' }, now: at('2025-09-15T09:00Z') });
  assert.deepEqual(numbers(open), ['emergency 112', 'clinic 555-0100']);
  const closed = waysFor(levels, { contact: contact({ out_of_hours_phone: '112' }), now: at('2025-09-13T12:00Z') });
  assert.deepEqual(numbers(closed), ['emergency 112']);
  assert.equal(closed.says.filter((one) => one.what === 'closed').length, 1);
});
