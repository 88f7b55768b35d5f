import assert from 'node:assert/strict';
import { test } from 'node:test';

import { batchOf, BATCH, fresh, fromChange, merged, offeredAgain, settled, standing } from '../../web/phone/rows.js';

const said = (id, more = {}) => ({ id, limb_id: 'l', date: '2025-09-15', time: '08:00', stack: [], comfort: 7, ...more });
const kept = (id, seq, more) => ({ ...fresh(said(id, more), 'a'), state: 'kept', seq });

test('an entry leaves the outbox on "kept" and on "already", and on nothing else', () => {
  const row = fresh(said('1'), 'a');
  assert.equal(settled(row, { id: '1', status: 'kept' }).state, 'kept');
  assert.equal(settled(row, { id: '1', status: 'already' }).state, 'kept');
  assert.equal(settled(row, { id: '1', status: 'refused', errors: { comfort: ['no'] } }).state, 'refused');
  assert.equal(settled(row, { id: '1', status: 'perhaps' }), null);
});

test('a refused entry keeps its reason', () => {
  const row = settled(fresh(said('1'), 'a'), { id: '1', status: 'refused', errors: { date: ['Too early.'] } });
  assert.deepEqual(row.errors, { date: ['Too early.'] });
});

test('what the server tells of an unsent entry does not count as a receipt', () => {
  const row = fresh(said('1'), 'a');
  assert.equal(merged(row, fromChange({ ...said('1'), seq: 4 }, 'a')).state, 'waiting');
});

test('a change is kept without the words only the server uses', () => {
  const change = { type: 'checkin', ...said('1'), seq: 9, doubt: null, received_at: 'x',
    written_by: { device_id: 'd', role: 'caregiver', label: 'Blue phone' } };
  const row = fromChange(change, 'a');
  assert.deepEqual(Object.keys(row.checkin).filter((key) => ['type', 'seq', 'doubt', 'received_at'].includes(key)), []);
  assert.equal(row.checkin.written_by, 'd');
});

test('after a restore everything kept waits again, and what was refused does not', () => {
  assert.equal(offeredAgain(kept('1', 3)).state, 'waiting');
  assert.equal(offeredAgain({ ...kept('2', null), state: 'refused' }).state, 'refused');
});

test('a batch is the oldest that wait, and no more than a call takes', () => {
  const rows = Array.from({ length: BATCH + 9 }, (_, i) => fresh(said(String(1000 + i)), 'a')).reverse();
  const batch = batchOf([...rows, kept('0', 1)]);
  assert.equal(batch.length, BATCH);
  assert.equal(batch[0].id, '1000');
});

test('of two corrections of one entry the later to arrive counts, whichever was written first', () => {
  const rows = [kept('1', 1), kept('3', 2, { replaces: '1', comfort: 3 }), kept('2', 3, { replaces: '1', comfort: 5 })];
  assert.deepEqual(standing(rows).map((row) => row.checkin.comfort), [5]);
});

test('a correction not sent yet counts as last on the phone that wrote it', () => {
  const rows = [kept('1', 1), fresh(said('0', { replaces: '1', comfort: 2 }), 'a'), kept('2', 9, { replaces: '1', comfort: 4 })];
  assert.deepEqual(standing(rows).map((row) => row.checkin.comfort), [2]);
});

test('an entry taken back is gone from the list, with all it replaced', () => {
  const rows = [kept('1', 1), kept('2', 2, { replaces: '1' }), kept('3', 3, { replaces: '2', withdrawn: true })];
  assert.deepEqual(standing(rows), []);
});

test('corrections that name each other do not hang the list', () => {
  const rows = [kept('1', 1, { replaces: '2' }), kept('2', 2, { replaces: '1' })];
  assert.equal(standing(rows).length >= 1, true);
});

test('the newest day comes first', () => {
  const rows = [kept('1', 1), kept('2', 2, { date: '2025-09-16' }), kept('3', 3, { date: '2025-09-14' })];
  assert.deepEqual(standing(rows).map((row) => row.checkin.date), ['2025-09-16', '2025-09-15', '2025-09-14']);
});
