import assert from 'node:assert/strict';
import { test } from 'node:test';

import { checkinOf, draftOf, newDraft } from '../../web/phone/checkin.js';
import { diaryOn } from '../../web/phone/diary.js';
import { fixOf, keyOf, mustAskDay, others, todays } from '../../web/phone/drafts.js';
import { memory } from '../../web/phone/memory.js';
import { fresh } from '../../web/phone/rows.js';

const MONDAY = new Date(2025, 8, 15, 21, 10);
const TUESDAY = new Date(2025, 8, 16, 7, 30);
const ON = { monday: '2025-09-15', tuesday: '2025-09-16' };
const store = () => diaryOn(memory(['accounts', 'checkins', 'photos', 'small'], { accounts: 'device_id', checkins: 'id', photos: 'id' }, () => null), true);

const monday = { ...newDraft('l', MONDAY), stack: [{ ply: 3, make: 'single' }] };
const tuesday = newDraft('l', TUESDAY);
const row = fresh(checkinOf({ ...monday, comfort: 4 }, { id: 'c1', now: MONDAY, device_id: 'd' }), 'd');
const fix = draftOf(row, TUESDAY);

test('each day has a draft of its own, and each correction', async () => {
  const diary = store();
  for (const draft of [monday, tuesday, fix]) await diary.putDraft(draft);
  const { drafts } = await diary.everything();
  assert.equal(drafts.length, 3);
  assert.equal(todays(drafts, 'l', ON.tuesday).opened_at, tuesday.opened_at);
  assert.deepEqual(others(drafts, 'l', ON.tuesday).map((one) => one.replaces), ['c1', null]);
  assert.equal(fixOf(drafts, 'c1').comfort, 4);
  assert.deepEqual(others(drafts, 'another limb', ON.tuesday), []);
});

test('a draft of an early version is found again, and moved once', async () => {
  const diary = store();
  const { opened_at: _, ...early } = monday;
  await diary.putSmall('draft:l', early);
  await diary.moveDrafts();
  await diary.moveDrafts();
  const { drafts } = await diary.everything();
  assert.deepEqual(drafts.map((one) => [one.stack.length, one.date, one.opened_at]), [[1, ON.monday, ON.monday]]);
  assert.equal(await diary.small('draft:l'), undefined);
  await diary.putDraft({ ...drafts[0], date: ON.tuesday });
  assert.equal((await diary.everything()).drafts.length, 1, 'another day for it is not another draft');
});

test('a draft thrown away takes its own photos along, and no photo of a saved entry', async () => {
  const diary = store();
  await diary.putPhoto({ id: 'p1', state: 'draft' });
  await diary.putPhoto({ id: 'p2', state: 'waiting' });
  const draft = { ...monday, photos: ['p1', 'p2'] };
  await diary.putDraft(draft);
  await diary.dropDraft(draft);
  assert.deepEqual([(await diary.photos()).map((one) => one.id), (await diary.everything()).drafts], [['p2'], []]);
  await diary.dropUnsaved('p2');
  assert.deepEqual((await diary.photos()).map((one) => one.id), ['p2'], 'taken out of a correction, it is still in its entry');
});

test('a save ends its own draft and no other', async () => {
  const diary = store();
  for (const draft of [monday, tuesday, fix]) await diary.putDraft(draft);
  await diary.save(row, { draft: keyOf(monday) });
  assert.deepEqual((await diary.everything()).drafts.map(keyOf).sort(), [tuesday, fix].map(keyOf).sort());
});

test('a day that has turned is asked about, until the wearer has said which it is', () => {
  assert.equal(mustAskDay(monday, MONDAY), false);
  assert.equal(mustAskDay(monday, TUESDAY), true);
  assert.equal(mustAskDay({ ...monday, day_said_on: ON.tuesday }, TUESDAY), false);
  assert.equal(mustAskDay({ ...monday, date: ON.tuesday }, TUESDAY), false);
  assert.equal(mustAskDay(fix, TUESDAY), false, 'a correction has its day from its entry');
  assert.equal(mustAskDay({ ...tuesday, date: ON.monday }, TUESDAY), false, 'written on purpose for the day before');
});
