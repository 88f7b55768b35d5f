import assert from 'node:assert/strict';
import { test } from 'node:test';

import { seriesOf } from '../../web/clinic/outcome-series.js';

test('only what compares is drawn together: one kind, one distance', () => {
  const one = (kind, distance, value) => ({ kind, distance_m: distance, value });
  const found = seriesOf([one('timed_walk', 10, 12), one('comfort', null, 6), one('timed_walk', 6, 7), one('timed_walk', 10, 9), one('comfort', null, 8)]);
  assert.deepEqual(found.map((series) => series.map(({ value }) => value)), [[12, 9], [6, 8], [7]]);
});
