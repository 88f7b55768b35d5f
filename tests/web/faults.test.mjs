import assert from 'node:assert/strict';
import { test } from 'node:test';

import { faultsOf, readNumber } from '../../web/phone/faults.js';
import { reasons } from '../../web/phone/ui/phrases.js';
import { fromKg, toKg } from '../../web/phone/weight.js';
import { speak } from '../../web/phone/words.js';

const NOW = new Date(2025, 8, 15, 7, 40);
const GOOD = { date: '2025-09-15', stack: [], comfort: 8, skin: [], hours_worn: null, weight_kg: null, note: null };
const faults = (fields, about = {}) => faultsOf({ ...GOOD, ...fields }, { now: NOW, ...about }).map((one) => `${one.field} ${one.fault}`);

test('what the clinic would refuse is found on the phone', () => {
  assert.deepEqual(faults({}), []);
  assert.deepEqual(faults({ hours_worn: 24, weight_kg: 400, note: 'x'.repeat(1000) }), []);
  assert.deepEqual(faults({ hours_worn: 30 }), ['hours_worn hours_worn']);
  assert.deepEqual(faults({ weight_kg: 1.9 }), ['weight_kg weight_kg']);
  assert.deepEqual(faults({ note: 'x'.repeat(1001) }), ['note note']);
  assert.deepEqual(faults({ date: '2025-09-16' }), ['date ahead']);
  assert.deepEqual(faults({ date: '0225-09-15' }), ['date date']);
  assert.deepEqual(faults({ date: '2025-02-28' }, { amputated_on: '2025-03-01' }), ['date before']);
  assert.deepEqual(faults({ skin: Array(21).fill({}) }), ['skin many']);
});

test('a number is read as people write it, and what is none is never kept as nothing', () => {
  assert.deepEqual(['7.5', '7,5', ' 8 ', '٧٫٥', '', '.5'].map(readNumber), [7.5, 7.5, 8, 7.5, null, 0.5]);
  assert.deepEqual(['eight', '7.5.1', '8h', '-3', '1e3'].map(readNumber), ['eight', '7.5.1', '8h', '-3', '1e3']);
  assert.deepEqual(faults({ hours_worn: readNumber('8h') }), ['hours_worn hours_worn']);
  assert.equal(fromKg(toKg(readNumber('8o'), 'lb'), 'lb'), '8o');
});

test('a refused entry says what is wrong in the wearer’s own language, and in words for what the phone does not know', async () => {
  const row = { checkin: { ...GOOD, hours_worn: 30 }, errors: { hours_worn: ['This must be a number from 0 to 24 hours.'], 'stack[0].ply': ['no'] } };
  const said = () => reasons(row, { now: NOW, unit: 'kg' }).map((one) => `${one.name}: ${one.why}`);
  assert.deepEqual(said(), ['Hours worn: This must be a number from 0 to 24 hours.', 'Socks: no']);
  await speak('de');
  assert.deepEqual(said(), ['Stunden getragen: Das muss eine Zahl von 0 bis 24 Stunden sein.', 'Socken: Bitte prüfen.']);
  await speak('en');
});
