import assert from 'node:assert/strict';
import { test } from 'node:test';

import { byDay, counted } from '../../web/clinic/ui/log.js';

const checkin = (id, more = {}) => ({
  id, seq: Number(id), moment: 'putting_on', time: null, comfort: 7, pain: null, skin: [], skin_checked: false, hours_worn: null,
  falls: null, weight_kg: null, signs: [], tags: [], note: null, stack: [], stack_mm: 1, replaced_by: null,
    withdrawn: false, ...more,
});

test('a corrected and a withdrawn check-in don’t count', () => {
  const day = { date: '2026-11-01',
    checkins: [checkin('1', { replaced_by: '2' }), checkin('2', { comfort: 4 }), checkin('3', { withdrawn: true })] };
  assert.deepEqual(counted(day).map((one) => one.id), ['2']);
  assert.equal(byDay([day])[0].comfort, 4);
});

test('a day that was taken back whole is a gap, not a zero', () => {
  assert.deepEqual(byDay([{ date: '2026-11-01', checkins: [checkin('1', { withdrawn: true })] }]), []);
});

test('morning and evening are told apart and days come oldest first', () => {
  const evening = checkin('2', { moment: 'end_of_day', stack_mm: 2 });
  const lines = byDay([{ date: '2026-11-02', checkins: [evening, checkin('1')] }, { date: '2026-11-01', checkins: [checkin('3')] }]);
  assert.deepEqual(lines.map((line) => line.date), ['2026-11-01', '2026-11-02']);
  assert.deepEqual([lines[1].morning.stack_mm, lines[1].evening.stack_mm, lines[0].evening], [1, 2, undefined]);
});
