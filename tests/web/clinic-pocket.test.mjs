import assert from 'node:assert/strict';
import { test } from 'node:test';

import { changePocket, takePocketBack } from '../../web/clinic/api.js';

const answers = (status, said) => {
  const asked = [];
  globalThis.fetch = (path, { method, body }) => {
    asked.push({ path, method, body: body && JSON.parse(body) });
    return Promise.resolve({ ok: status < 400, status, json: () => Promise.resolve(said) });
  };
  return asked;
};
const before = () => ({ loose: 'Add one.', tight: null, wear: null, care: 'Dry it.', bring: null, to: null });

test('the whole plan as the form showed it goes with one field that changed', async () => {
  const asked = answers(200, { id: 'v2' });
  await changePocket('l', { bring: 'Your liner.' }, before());
  assert.deepEqual(asked[0].body, { bring: 'Your liner.', was: before() });
});

test('kept once more after a colleague took it back, what the form shows takes its place', async () => {
  answers(409, { error: { code: 'changed-meanwhile' }, now: { loose: null, care: null } });
  const own = before();
  await assert.rejects(changePocket('l', { bring: 'Your liner.' }, own), { status: 409 });
  assert.deepEqual([own.loose, own.care], [null, null]);
});

test('taking the plan back names the version that was read', async () => {
  const asked = answers(200, {});
  await takePocketBack('l', 'v1');
  assert.deepEqual([asked[0].method, asked[0].path], ['DELETE', '/api/clinic/limbs/l/pocket?was=v1']);
});
