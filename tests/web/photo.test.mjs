import assert from 'node:assert/strict';
import { test } from 'node:test';

import { fitted } from '../../web/phone/photo.js';

test('a photo keeps its shape and never grows', () => {
  assert.deepEqual(fitted(4000, 3000, 1600), { width: 1600, height: 1200 });
  assert.deepEqual(fitted(3000, 4000, 1600), { width: 1200, height: 1600 });
  assert.deepEqual(fitted(200, 100, 1600), { width: 200, height: 100 });
  assert.deepEqual(fitted(10_000, 1, 1600), { width: 1600, height: 1 });
});
