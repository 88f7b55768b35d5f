import assert from 'node:assert/strict';
import { test } from 'node:test';

import { begunOf, takenBack } from '../../web/phone/begun.js';
import { checkinOf, draftOf, newDraft } from '../../web/phone/checkin.js';
import { diaryOn } from '../../web/phone/diary.js';
import { memory } from '../../web/phone/memory.js';
import { outboxOn } from '../../web/phone/outbox.js';
import { fresh, settled } from '../../web/phone/rows.js';
import { sendBegun } from '../../web/phone/sync.js';

const NOW = new Date(2025, 8, 15, 7, 30);
const KEYS = { accounts: 'device_id', checkins: 'id', photos: 'id', small: undefined };
const draft = { ...newDraft('l', NOW), signs: ['cold_pale_limb'] };
const about = { id: 'b1', now: NOW, device_id: 'd', fired: ['emergency-cold-limb'] };
const store = () => diaryOn(memory(Object.keys(KEYS), KEYS, (row, index) => row[index]), true);
const account = { device_id: 'd', token: 't', people: [], cursor: null };

const answering = (sent) => ({ sync: async (_token, envelope) => {
  sent.push(...envelope.checkins);
  return { epoch: 'e', cursor: 'c', changes: [], receipts: envelope.checkins.map(({ id }) =>
    ({ id, status: 'refused', errors: { stack: [''] }, danger: 'heard' })) };
} });

test('what is left with a danger is told without socks, and so is never an entry', () => {
  const row = begunOf(draft, about);
  assert.deepEqual([row.item.id, row.item.signs, 'stack' in row.item, 'comfort' in row.item], ['b1', ['cold_pale_limb'], false, false]);
  assert.equal(begunOf({ ...draft, signs: [] }, { ...about, fired: [] }), null);
});

test('the same is not told twice, another danger is, and one un-ticked later is taken back', () => {
  const before = { ...begunOf(draft, about), sent: true };
  assert.equal(begunOf({ ...draft, stack: [{ ply: 3, make: 'single' }], comfort: null }, { ...about, before }), null);
  assert.deepEqual(begunOf({ ...draft, signs: ['cold_pale_limb', 'confusion'] }, { ...about, before }).item.signs, ['cold_pale_limb', 'confusion']);
  assert.deepEqual(begunOf({ ...draft, signs: [] }, { ...about, fired: [], before }).item.signs, []);
});

test('a correction tells only of what its entry did not', () => {
  const row = fresh(checkinOf({ ...draft, comfort: 6 }, { id: 'c1', now: NOW, device_id: 'd' }), 'd');
  const fix = draftOf(row, NOW);
  assert.equal(begunOf(fix, { ...about, known: about.fired }), null);
  assert.ok(begunOf({ ...fix, signs: ['confusion'] }, { ...about, fired: ['emergency-infection'], known: about.fired }));
});

test('it waits without a network, is sent once, and is gone when the entry is saved', async () => {
  const diary = store();
  await diary.putBegun(begunOf(draft, about));
  await assert.rejects(sendBegun(account,
    { diary, api: { sync: async () => { throw new TypeError('no network'); } }, now: () => NOW, build: () => '' }));
  assert.equal((await diary.everything()).begun[0].sent, false);
  const sent = [];
  for (let n = 0; n < 2; n += 1) await sendBegun(account,
    { diary, api: answering(sent), now: () => NOW, build: () => '' });
  assert.deepEqual(sent.map((one) => one.id), ['b1']);
  assert.deepEqual((await diary.everything()).begun.map((one) => [one.id, one.sent]), [['b1', true]]);
  await diary.save(fresh(checkinOf({ ...draft, comfort: 6 }, { id: 'b1', now: NOW, device_id: 'd' }), 'd'));
  assert.deepEqual((await diary.everything()).begun, []);
  assert.equal((await outboxOn(diary).peek('d')).length, 1);
});

test('what changed while it was being sent is sent again', async () => {
  const diary = store();
  await diary.putBegun(begunOf(draft, about));
  const sent = [];
  const api = answering(sent);
  const slow = { sync: async (...given) => {
    await diary.putBegun({ ...begunOf({ ...draft, signs: ['confusion'] }, about) });
    return api.sync(...given);
  } };
  await sendBegun(account, { diary, api: slow, now: () => NOW, build: () => '' });
  assert.equal((await diary.everything()).begun[0].sent, false);
});

test('thrown away before it left it is never sent, and after that it is taken back', async () => {
  const diary = store();
  const row = begunOf(draft, about);
  assert.equal(takenBack(row, NOW), null);
  const back = takenBack({ ...row, sent: true }, NOW);
  assert.equal(back.item.signs, undefined);
  await diary.putBegun(back);
  const sent = [];
  await sendBegun(account, { diary, api: answering(sent), now: () => NOW, build: () => '' });
  assert.deepEqual([sent.length, (await diary.everything()).begun], [1, []]);
});

test('a refused entry that is mended keeps its id, so that the clinic knows it is the same', async () => {
  const diary = store();
  const row = settled(fresh({ ...checkinOf({ ...draft, comfort: 6 }, { id: 'c1', now: NOW, device_id: 'd' }),
    hours_worn: 30 }, 'd'), { status: 'refused', errors: { hours_worn: ['No.'] }, danger: 'heard' });
  assert.equal(row.danger, 'heard');
  assert.equal(draftOf(row, NOW).id, 'c1');
  await diary.save(row);
  await diary.save(fresh({ ...row.checkin, hours_worn: 3 }, 'd'), { mends: 'c1' });
  assert.deepEqual((await diary.everyCheckin()).map((one) => [one.id, one.state]), [['c1', 'waiting']]);
  // Where the id itself is what was refused, it is another entry.
  assert.equal(draftOf({ ...row, errors: { id: ['Taken.'] } }, NOW).id ?? null, null);
});

test('after a restore at the clinic what it had heard is told again', async () => {
  const diary = store();
  await diary.putAccount({ ...account, epoch: 'e1' });
  await diary.putBegun({ ...begunOf(draft, about), sent: true });
  await diary.save({ ...settled(fresh({ id: 'c9', limb_id: 'l', date: '2025-09-15' }, 'd'), { status: 'refused', errors: {}, danger: 'heard' }) });
  await diary.apply('d', { epoch: 'e2', cursor: 'c', receipts: [], changes: [], at: NOW.toISOString() });
  assert.equal((await diary.everything()).begun[0].sent, false);
  assert.equal((await diary.everyCheckin())[0].state, 'waiting');
});
