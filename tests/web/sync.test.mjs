import assert from 'node:assert/strict';
import { test } from 'node:test';

import { diaryOn, withChange } from '../../web/phone/diary.js';
import { memory } from '../../web/phone/memory.js';
import { counted, outboxOn } from '../../web/phone/outbox.js';
import { fresh } from '../../web/phone/rows.js';
import { syncAccount, syncer, waitAfter } from '../../web/phone/sync.js';

const KEYS = { accounts: 'device_id', checkins: 'id', photos: 'id', small: undefined };
const PEOPLE = [{ id: 'p', name: 'Ann', limbs: [{ id: 'l', sockets: [] }] }];
const now = () => new Date(Date.UTC(2025, 8, 15, 12));

async function phone(checkins = []) {
  const store = memory(Object.keys(KEYS), KEYS, (row, index) => (index === 'limb' ? row.limb_id : row[index]));
  const diary = diaryOn(store, true);
  const account = { device_id: 'd', token: 't', people: PEOPLE, epoch: 'e1', cursor: 'e1.0.x', consent: {} };
  await diary.putAccount(account);
  for (const checkin of checkins) await diary.save(fresh(checkin, 'd'));
  return { store, diary, outbox: outboxOn(diary), account };
}

const said = (id, more = {}) => ({ id, limb_id: 'l', date: '2025-09-15', stack: [], comfort: 7, ...more });

/** A server's answers, one after the other; what was sent is kept for a look. */
function answers(...list) {
  const sent = [];
  const sync = async (_token, envelope) => {
    sent.push(structuredClone(envelope));
    const next = list.shift();
    if (next instanceof Error) throw next;
    return typeof next === 'function' ? next(envelope) : next;
  };
  return { sync, sent };
}

const kept = (epoch = 'e1', more = {}) => (envelope) => ({
  epoch, cursor: `${epoch}.9.y`, changes: [], more: false, server_time: now().toISOString(),
  receipts: envelope.checkins.map(({ id }) => ({ id, status: 'kept', errors: {} })), ...more,
});

const run = (parts, api) => syncAccount(parts.account, { ...parts, api, now, build: () => 'test' });
const states = async ({ diary }) => Object.fromEntries((await diary.everyCheckin()).map((row) => [row.id, row.state]));

test('what was sent and receipted is with the clinic', async () => {
  const parts = await phone([said('1'), said('2')]);
  await run(parts, answers(kept()));
  assert.deepEqual(await states(parts), { 1: 'kept', 2: 'kept' });
});

test('a lost answer loses nothing: it waits and is sent again under the same id', async () => {
  const parts = await phone([said('1')]);
  const api = answers(new TypeError('cut'), kept());
  await assert.rejects(run(parts, api));
  assert.deepEqual(await states(parts), { 1: 'waiting' });
  await run(parts, api);
  assert.deepEqual(api.sent.map((one) => one.checkins[0].id), ['1', '1']);
});

test('a receipt for one id does not let another go', async () => {
  const parts = await phone([said('1'), said('2')]);
  const half = (envelope) => ({ ...kept()(envelope), receipts: [{ id: '1', status: 'kept', errors: {} }] });
  const api = answers(half, kept());
  await assert.rejects(run(parts, api)); // the next try waits its turn; nothing is hammered
  assert.equal(api.sent.length, 1);
  assert.deepEqual(await states(parts), { 1: 'kept', 2: 'waiting' });
});

test('one refused entry stays in sight and does not hold up the rest', async () => {
  const parts = await phone([said('1'), said('2')]);
  const mixed = (envelope) => ({ ...kept()(envelope),
    receipts: [{ id: '1', status: 'refused', errors: { date: ['no'] } }, { id: '2', status: 'kept' }] });
  await run(parts, answers(mixed));
  assert.deepEqual(await states(parts), { 1: 'refused', 2: 'kept' });
  assert.deepEqual(counted(await parts.diary.everyCheckin(), []), { waiting: 0, stuck: 0, refused: 1 });
});

test('an answer that makes no sense changes nothing', async () => {
  const parts = await phone([said('1')]);
  for (const nonsense of [null, {}, { epoch: 'e1', receipts: [], changes: 'x' }, '<html>']) {
    await assert.rejects(run(parts, answers(nonsense)));
  }
  assert.deepEqual(await states(parts), { 1: 'waiting' });
});

test('pages are fetched until there are no more, and the cursor is kept with the rows', async () => {
  const parts = await phone();
  const page = (n, more) => kept('e1', { more, cursor: `e1.${n}.z`, changes: [{ type: 'checkin', ...said(`s${n}`), seq: n, written_by: null }] });
  const api = answers(page(1, true), page(2, true), page(3, false));
  await run(parts, api);
  assert.deepEqual(api.sent.map((one) => one.cursor), ['e1.0.x', 'e1.1.z', 'e1.2.z']);
  assert.equal((await parts.diary.accounts())[0].cursor, 'e1.3.z');
});

test('more than one batch goes in one pass', async () => {
  const parts = await phone(Array.from({ length: 120 }, (_, i) => said(String(100 + i))));
  const api = answers(kept(), kept(), kept(), kept());
  await run(parts, api);
  assert.deepEqual(api.sent.map((one) => one.checkins.length), [50, 50, 20]);
  assert.deepEqual(counted(await parts.diary.everyCheckin(), []), { waiting: 0, stuck: 0, refused: 0 });
});

test('a new epoch: everything this phone holds is offered again, also what others wrote', async () => {
  const parts = await phone([said('1')]);
  await run(parts, answers(kept('e1', { changes: [{ type: 'checkin', ...said('other'), seq: 2, written_by: { device_id: 'd2' } }] })));
  parts.account = (await parts.diary.accounts())[0];
  const api = answers(kept('e2'), kept('e2'));
  await run(parts, api);
  assert.deepEqual(api.sent[1].checkins.map((one) => [one.id, one.written_by ?? null]), [['1', null], ['other', 'd2']]);
});

test('a restore is told once, so that it can be said in words', async () => {
  const parts = await phone([said('1')]);
  assert.equal((await run(parts, answers(kept('e1')))).restored, false);
  parts.account = (await parts.diary.accounts())[0];
  assert.equal((await run(parts, answers(kept('e2'), kept('e2')))).restored, true);
});

test('the wait doubles, is jittered, has a ceiling, and obeys the server', () => {
  assert.equal(waitAfter(3, null, 1), 8_000);
  assert.equal(waitAfter(30, null, 1), 300_000);
  assert.equal(waitAfter(3, null, 0), 250);
  assert.ok(waitAfter(0, 60, 0) >= 60_000);
});

test('500 phones after an outage come back spread out', () => {
  const seconds = new Map();
  let state = 7;
  const random = () => ((state = (state * 16807) % 2147483647) / 2147483647);
  for (let i = 0; i < 500; i += 1) {
    const second = Math.floor(waitAfter(9, null, random()) / 1_000);
    seconds.set(second, (seconds.get(second) ?? 0) + 1);
  }
  const steady = 500 / 300; // a second, over the ceiling of five minutes
  assert.ok(Math.max(...seconds.values()) < 5 * steady, String(Math.max(...seconds.values())));
});

test('a new link for the same limb takes over what the old one could not send; other limbs stay', async () => {
  const parts = await phone([said('1'), said('2', { limb_id: 'other' })]);
  await parts.diary.change('d', { unlinked: true });
  const link = { device_id: 'd9', token: 't9', people: PEOPLE, consent: {} };
  await parts.diary.putAccount(link);
  await parts.diary.takeOver(link);
  const owners = Object.fromEntries((await parts.diary.everyCheckin()).map((row) => [row.id, row.account]));
  assert.deepEqual(owners, { 1: 'd9', 2: 'd' });
});

test('a changed socket finds its limb', () => {
  const people = withChange(PEOPLE, { type: 'socket', id: 's', limb_id: 'l', fitted_on: '2025-09-01' });
  assert.deepEqual(people[0].limbs[0].sockets, [{ id: 's', limb_id: 'l', fitted_on: '2025-09-01' }]);
});

/** A whole pass of one account, as the app runs it, against a clinic that is an object. */
async function pass(parts, clinic) {
  globalThis.navigator ??= {};
  const api = {
    me: async () => ({ clinic: {}, people: PEOPLE, next_visits: [], seen: {}, device: { role: 'wearer' },
      server_time: now().toISOString(), ...clinic.me }),
    sync: async (_token, envelope) => kept(clinic.epoch)(envelope),
    sendPhoto: async (_token, photo) =>
      (clinic.photos.push(photo.id), clinic.answer ?? { id: photo.id, status: 'kept', kept_at: clinic.kept_at }),
  };
  const one = syncer({ ...parts, api, tell: () => {}, build: () => 'test', now });
  await one.pass();
  one.stop?.();
}

const photo = (id, checkin_id) => ({ id, limb_id: 'l', checkin_id, bytes: new Uint8Array(4), state: 'waiting' });
const photoStates = async ({ diary }) => Object.fromEntries((await diary.photos()).map((one) => [one.id, one.state]));

test('a photo stays on the phone until the clinic has it in its backups, and goes again after a restore', async () => {
  const parts = await phone([said('1')]);
  await parts.diary.putPhoto(photo('p1', '1'));
  const clinic = { epoch: 'e1', photos: [], kept_at: '2025-09-15T11:00:00+00:00', me: { backed_up_at: null } };
  await pass(parts, clinic);
  assert.deepEqual(await photoStates(parts), { p1: 'sent' });
  await pass(parts, clinic);
  assert.deepEqual(clinic.photos, ['p1']); // sent once
  clinic.me.backed_up_at = '2025-09-15T10:59:59.999999+00:00'; // from before
  clinic.epoch = 'e2';
  await pass(parts, clinic);
  assert.deepEqual(clinic.photos, ['p1', 'p1']);
  assert.deepEqual(await photoStates(parts), { p1: 'sent' });
  clinic.me.backed_up_at = '2025-09-15T11:00:00.000001+00:00';
  await pass(parts, clinic);
  assert.deepEqual(await photoStates(parts), {});
});

test('photos of a place that is still asked after stay, so that they lie side by side; two clear looks let them go', async () => {
  const skin = [{ place: 'limb_end', finding: 'blister', redness_minutes: null }];
  const found = said('1', { date: '2025-09-12', skin, skin_checked: true, photos: ['p1'] });
  const clear = (id, date) => said(id, { date, skin: [], skin_checked: true });
  const parts = await phone([found, clear('2', '2025-09-13'), said('3')]);
  const sent = { state: 'sent', kept_at: '2025-09-12T00:00:00+00:00' };
  await parts.diary.putPhoto({ ...photo('p1', '1'), ...sent });
  await parts.diary.putPhoto({ ...photo('p3', '3'), ...sent });
  const clinic = { epoch: 'e1', photos: [], me: { backed_up_at: '2025-09-14T00:00:00+00:00' } };
  await pass(parts, clinic);
  assert.deepEqual(await photoStates(parts), { p1: 'sent' });
  await parts.diary.save(fresh(clear('4', '2025-09-14'), 'd'));
  await pass(parts, clinic);
  assert.deepEqual(await photoStates(parts), {});
});

test('a server that does not say when it was backed up gets no promise: the photo goes as it always did', async () => {
  const parts = await phone([said('1')]);
  await parts.diary.putPhoto(photo('p1', '1'));
  await pass(parts, { epoch: 'e1', photos: [], answer: { id: 'p1', status: 'kept' }, me: {} });
  assert.deepEqual(await photoStates(parts), {});
});

test('a photo that no backup took for two months, one of another clinic, one that was refused', async () => {
  const parts = await phone([said('1'), said('2')]);
  await parts.diary.putAccount({ device_id: 'other', token: null, people: [] });
  await parts.diary.save({ ...fresh(said('9'), 'other'), state: 'kept' });
  await parts.diary.putPhoto({ ...photo('old', '1'), state: 'sent', kept_at: '2025-07-10T00:00:00+00:00' });
  await parts.diary.putPhoto({ ...photo('new', '2'), state: 'sent', kept_at: '2025-09-10T00:00:00+00:00' });
  await parts.diary.putPhoto({ ...photo('theirs', '9'), state: 'sent', kept_at: '2025-09-10T00:00:00+00:00' });
  await parts.diary.putPhoto({ ...photo('bad', '1'), state: 'refused' });
  await pass(parts, { epoch: 'e2', photos: [], kept_at: '2025-09-15T11:00:00+00:00', me: { backed_up_at: '2025-09-14T00:00:00+00:00' } });
  assert.deepEqual(await photoStates(parts), { theirs: 'sent', bad: 'refused' });
});

test('a full phone lets go of photos that the clinic has before it refuses an entry', async () => {
  const parts = await phone();
  let room = 1;
  const full = { during: (names, mode, work) => (mode === 'readwrite' && names.includes('checkins') && room-- > 0
    ? Promise.reject(new DOMException('full', 'QuotaExceededError')) : parts.store.during(names, mode, work)) };
  const diary = diaryOn(full, true);
  await diary.putPhoto({ ...photo('p1', '0'), state: 'sent' });
  await diary.putPhoto(photo('p2', '0'));
  await diary.save(fresh(said('1'), 'd'));
  assert.deepEqual((await diary.photos()).map((one) => one.id), ['p2']);
  room = 9;
  await assert.rejects(diary.save(fresh(said('2'), 'd')), { name: 'QuotaExceededError' }); // nothing left to let go
});

test('a link that is forgotten takes its photos along', async () => {
  const parts = await phone([said('1')]);
  await parts.diary.putPhoto(photo('p1', '1'));
  await parts.diary.putPhoto(photo('p2', 'elsewhere'));
  await parts.diary.dropAccount('d');
  assert.deepEqual(await photoStates(parts), { p2: 'waiting' });
});
