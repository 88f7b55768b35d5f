import assert from 'node:assert/strict';
import { test } from 'node:test';

import { fileOf, pageOf, summaryOf } from '../../web/phone/mine.js';

const now = new Date(2025, 8, 15, 12);
const anouk = { id: 'p1', name: 'Anouk <b>', born_on: '1968-04-02', account: { device_id: 'secret-device', token: 'secret-token' }, limbs: [{ id: 'l1', side: 'left', level: 'transtibial' }] };
const row = (id, more = {}, about = {}) => ({
  id, limb_id: about.limb ?? 'l1', account: 'secret-device', state: 'kept', seq: 1, received_at: '2025-09-15T10:00:00Z',
  writer: { device_id: 'secret-device', role: 'wearer', label: 'Anouk’s phone' },
  checkin: { id, limb_id: about.limb ?? 'l1', date: '2025-09-15', moment: 'putting_on',
    stack: [{ ply: 3, make: 'single' }], comfort: 8, skin: [], written_by: 'secret-device', ...more }, ...about,
});
const rows = {
  l1: [row('a', { comfort: 2, note: 'first words' }),
    row('b', { comfort: 6, replaces: 'a', note: 'a <script> note' }, { seq: 2 }),
    row('c', { withdrawn: true, note: 'gone' }), row('d', { date: '2025-09-14' }, { state: 'waiting', writer: undefined, received_at: null })],
  l2: [row('x', { note: 'another person’s' }, { limb: 'l2' })],
};

test('the file holds every entry of this person, says which count, and no key of the phone', () => {
  const made = fileOf(anouk, rows, now);
  const [limb] = made.limbs;
  assert.deepEqual(limb.entries.map((one) => [one.id, one.counts, one.where]),
    [['a', false, 'kept'], ['b', true, 'kept'], ['c', false, 'kept'], ['d', true, 'waiting']]);
  assert.deepEqual(limb.entries[3].writer, { role: 'this phone', label: null });
  const text = JSON.stringify(made);
  assert.ok(!text.includes('secret') && !text.includes('another person'));
});

test('the page shows what counts, newest first, and runs nothing', () => {
  const page = pageOf(anouk, rows, now);
  assert.ok(page.startsWith('<!doctype html>'));
  assert.ok(page.includes('a &lt;script&gt; note') && page.includes('Anouk &lt;b&gt;'));
  for (const absent of ['<script', '<b>', 'first words', 'gone', 'another person', 'secret']) assert.ok(!page.includes(absent), absent);
  const at = (n) => page.search(new RegExp(`<h3>[^<]*(${n}\\sSeptember|September ${n})`));
  assert.ok(at(15) > 0 && at(15) < at(14));
  assert.ok(page.includes('It never tells you to change your socket'));
});

test('a limb without entries says so', () => {
  assert.ok(pageOf(anouk, {}, now).includes('Nothing here yet'));
});

test('four weeks on one page: the picture and a line a day, of this person alone, without the notes', () => {
  const page = summaryOf(anouk, rows, now, { visits: [{ person_id: 'p1', on: '2025-09-16' }, { person_id: 'p2', on: '2025-09-12' }] });
  for (const absent of ['<script', '<b>', 'first words', 'another person', 'secret', 'note']) assert.ok(!page.includes(absent), absent);
  assert.equal(page.split('<tr>').length - 1, 1 + 3); // a head, two days that were written, and the visit that comes
  assert.equal(page.split('class="column"').length - 1, 2);
  assert.equal(page.split('class="flag"').length - 1, 1);
});
