import assert from 'node:assert/strict';
import { test } from 'node:test';

import * as api from '../../web/phone/api.js';
import { diaryOn } from '../../web/phone/diary.js';
import { memory } from '../../web/phone/memory.js';
import { outboxOn } from '../../web/phone/outbox.js';
import { fresh } from '../../web/phone/rows.js';
import { syncer } from '../../web/phone/sync.js';

const KEYS = { accounts: 'device_id', checkins: 'id', photos: 'id', small: undefined };
const now = () => new Date(Date.UTC(2025, 8, 15, 12));
globalThis.navigator ??= {}; // no locks here: one pass at a time anyway
const people = (limb) => [{ id: `p-${limb}`, name: 'Ann', limbs: [{ id: limb, sockets: [] }] }];

/** A phone with a link for each of `tokens`, and one entry waiting for each. */
async function phone(...tokens) {
  const diary = diaryOn(memory(Object.keys(KEYS), KEYS, (row, index) => (index === 'limb' ? row.limb_id : row[index])), true);
  for (const token of tokens) {
    await diary.putAccount({ device_id: `d-${token}`, token, people: people(token), epoch: 'e', cursor: 'e.0.x', consent: {} });
    await diary.save(fresh({ id: `c-${token}`, limb_id: token, date: '2025-09-15', stack: [], comfort: 7 }, `d-${token}`));
  }
  return diary;
}

const json = (status, said, headers = {}) => new Response(JSON.stringify(said), { status, headers });
const page = (status, headers = {}) => new Response('<html>Sign in to the network</html>', { status, headers });
const refusal = (code, more = {}) => ({ error: { code, message: 'words', fields: {} }, ...more });

/** Our server, as the phone's calls meet it. */
const well = (path, options) => {
  const token = options.headers.Authorization.slice(7);
  if (path === '/api/me') return json(200, { server_time: now().toISOString(), clinic: {}, people: people(token),
    next_visits: [], seen: {}, device: { role: 'wearer' } });
  if (path !== '/api/sync') return json(201, {});
  const receipts = JSON.parse(options.body).checkins.map(({ id }) => ({ id, status: 'kept', errors: {} }));
  return json(200, { epoch: 'e', cursor: 'e.9.y', changes: [], more: false, server_time: now().toISOString(), receipts });
};

/** One pass of the real syncer over the real api, with `answer` for the network; what was told. */
async function passed(t, diary, answer, at = now) {
  t.mock.timers.enable({ apis: ['setTimeout'] });
  t.mock.method(globalThis, 'fetch', async (path, options) => answer(path, options) ?? well(path, options));
  const told = [];
  await syncer({ diary, outbox: outboxOn(diary), api, tell: (event) => told.push(event.what), build: () => 'test',
    now: at }).pass();
  t.mock.timers.reset();
  t.mock.restoreAll();
  return told;
}

const unlinked = async (diary) =>
  Object.fromEntries((await diary.accounts()).map((one) => [one.token, Boolean(one.unlinked)]));
const states = async (diary) => Object.fromEntries((await diary.everyCheckin()).map((row) => [row.id, row.state]));

const FOREIGN = {
  'a page with 401': () => page(401),
  'a page with 403': () => page(403),
  'a sign-in page with 200': () => page(200),
  'nothing with 401': () => new Response(null, { status: 401 }),
  'somebody else’s JSON with 401': () => json(401, { error: 'unauthorized', message: 'no' }),
  'somebody else’s code with 401': () => json(401, { code: 'revoked' }),
  'our shape, not known here': () => json(401, refusal('not-enrolled')),
  'our shape, wrong kind': () => json(403, refusal('wrong-kind')),
  'revoked, of nobody': () => json(401, refusal('revoked')),
  'revoked, of another phone': () => json(401, refusal('revoked', { revoked: { device_id: 'd-x' } })),
  'revoked with 403': () => json(403, refusal('revoked', { revoked: { device_id: 'd-a' } })),
  'null with 401': () => json(401, null),
  'a list with 401': () => json(401, [1]),
  'a string with 200': () => json(200, 'hello'),
};

for (const [what, answer] of Object.entries(FOREIGN)) {
  for (const where of ['/api/me', '/api/sync']) {
    test(`${what} at ${where} unlinks no phone`, async (t) => {
      const diary = await phone('a');
      assert.deepEqual(await passed(t, diary, (path) => (path === where ? answer() : null)), ['failed']);
      assert.deepEqual(await unlinked(diary), { a: false });
      assert.deepEqual(await states(diary), { 'c-a': 'waiting' });
      await passed(t, diary, () => null);
      assert.deepEqual(await states(diary), { 'c-a': 'kept' });
    });
  }
}

const revoked = (token) => (_path, options) =>
  options.headers.Authorization === `Bearer ${token}` ? json(401, refusal('revoked', { revoked: { device_id: `d-${token}` } })) : null;

test('the clinic’s own word about this phone ends its link, and no other’s', async (t) => {
  const diary = await phone('a', 'b');
  await passed(t, diary, revoked('a'));
  assert.deepEqual(await unlinked(diary), { a: true, b: false });
  assert.deepEqual(await states(diary), { 'c-a': 'waiting', 'c-b': 'kept' });
});

test('a phone that was unlinked asks again when it is opened', async (t) => {
  const diary = await phone('a');
  await diary.change('d-a', { unlinked: true });
  assert.deepEqual(await passed(t, diary, () => page(403)), ['reached']);
  assert.deepEqual(await unlinked(diary), { a: true }); // not known: it stays as it is
  await passed(t, diary, () => null);
  assert.deepEqual(await unlinked(diary), { a: false });
  assert.deepEqual(await states(diary), { 'c-a': 'kept' });
});

test('a phone that its clinic did not know for a week is told to ask for a code, and asks on when it is opened', async (t) => {
  const diary = await phone('a');
  const stranger = () => json(401, refusal('not-enrolled'));
  const on = (day, hour = 12) => () => new Date(Date.UTC(2025, 8, day, hour));
  await passed(t, diary, stranger, on(15));
  await passed(t, diary, () => page(401), on(16)); // not the clinic's: it says nothing either way
  await passed(t, diary, stranger, on(22, 11));
  assert.deepEqual(await unlinked(diary), { a: false });
  await passed(t, diary, stranger, on(22));
  assert.deepEqual(await unlinked(diary), { a: true });
  assert.deepEqual(await states(diary), { 'c-a': 'waiting' });
  await passed(t, diary, () => null, on(23));
  assert.deepEqual([await unlinked(diary), await states(diary)], [{ a: false }, { 'c-a': 'kept' }]);
  await passed(t, diary, stranger, on(30)); // known in between: the week begins anew
  assert.deepEqual(await unlinked(diary), { a: false });
});

test('a clock that was put ahead makes no week', async (t) => {
  const diary = await phone('a');
  const stranger = () => json(401, refusal('not-enrolled'));
  await passed(t, diary, stranger, () => new Date(Date.UTC(2026, 8, 15)));
  await passed(t, diary, stranger, () => new Date(Date.UTC(2025, 8, 15)));
  await passed(t, diary, stranger, () => new Date(Date.UTC(2025, 8, 16)));
  assert.deepEqual(await unlinked(diary), { a: false });
  await passed(t, diary, stranger, () => new Date(Date.UTC(2025, 8, 22)));
  assert.deepEqual(await unlinked(diary), { a: true });
});

test('one clinic’s trouble holds up no other clinic’s entries', async (t) => {
  for (const trouble of [() => json(500, refusal('fault')), () => page(502), () => Promise.reject(new TypeError('cut')),
    () => json(200, { epoch: 1 })]) {
    const diary = await phone('a', 'b');
    const told = await passed(t, diary, (_path, options) => (options.headers.Authorization === 'Bearer a' ? trouble() : null));
    assert.deepEqual(await states(diary), { 'c-a': 'waiting', 'c-b': 'kept' });
    assert.equal(told.at(-1), 'failed');
  }
});

test('a proxy that finds a photo too large does not make it refused', async (t) => {
  const diary = await phone('a');
  await diary.putPhoto({ id: 'ph', limb_id: 'a', checkin_id: 'c-a', bytes: new Blob(['x']), state: 'waiting' });
  await passed(t, diary, (path) => (path.startsWith('/api/photos') ? page(413) : null));
  assert.deepEqual((await diary.photos()).map((one) => one.state), ['waiting']);
  await passed(t, diary, (path) => (path.startsWith('/api/photos') ? json(413, refusal('too-large')) : null));
  assert.deepEqual((await diary.photos()).map((one) => one.state), ['refused']);
});

test('a wait that somebody between asks for is kept to', async (t) => {
  t.mock.method(globalThis, 'fetch', async () => page(503, { 'Retry-After': '7' }));
  await assert.rejects(api.me('a'), (error) => error.status === 0 && error.after === 7);
  t.mock.restoreAll();
});
