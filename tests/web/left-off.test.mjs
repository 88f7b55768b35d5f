import assert from 'node:assert/strict';
import { test } from 'node:test';

import { newDraft } from '../../web/phone/checkin.js';
import { leftOff } from '../../web/phone/ui/standing.js';

const NOW = new Date('2025-11-20T09:00:00');
const told = (date, more = {}) => ({ id: 'stop-wear-skin', level: 'stop_wear',
  text: { en: { title: 'Do not wear the socket now', title_of: '{name} should not wear the socket now', do: 'Call.' } }, row: { id: 'c1', state: 'kept', checkin: { date } }, ...more });
const view = (standing, more = {}) => ({ today: '2025-11-20', limb: { id: 'l' }, stoodBefore: standing,
  rowsOf: { l: [] }, role: 'wearer', person: { name: 'Anouk Fell' }, ...more });
const asked = (v, draft = newDraft('l', NOW)) => String(leftOff(v, draft)).replace(/<[^>]+>/g, ' ').replace(/\s+/g, ' ');

test('the day after advice not to wear the socket, one question asks whether it was left off', () => {
  assert.match(asked(view([told('2025-11-19')])), /Yesterday: Do not wear the socket now\. Did you leave it off\? Yes No I can’t say/);
});

test('a caregiver is asked about the one they care for', () => {
  assert.match(asked(view([told('2025-11-19')], { role: 'caregiver' })), /Did Anouk leave it off\?/);
});

test('not of advice only to call, nor where nothing stands', () => {
  assert.equal(asked(view([told('2025-11-19', { level: 'call_clinic' })])), '');
  assert.equal(asked(view([])), '');
});

test('once a day', () => {
  const rows = { l: [{ id: 'c2', checkin: { date: '2025-11-20', left_off: 'no' } }] };
  assert.equal(asked(view([told('2025-11-19')], { rowsOf: rows })), '');
  assert.match(asked(view([told('2025-11-19')], { rowsOf: rows }), { ...newDraft('l', NOW), replaces: 'c2' }), /leave it off/);
});
