import assert from 'node:assert/strict';
import { test } from 'node:test';

import { newSocket } from '../../web/phone/ui/cards.js';

const limb = (more) => ({ sockets: [{ fitted_on: '2025-09-10', retired_on: null, wear_schedule: null, ...more }] });
const schedule = [{ day: 1, hours: 1 }, { day: 3, hours: 4 }, { day: 20, hours: 12 }];

test('the day of the fitting is day 1', () => assert.deepEqual(newSocket(limb(), '2025-09-10'), { day: 1, hours: null }));

test('a socket is new for two weeks, or for as long as its schedule runs', () => {
  assert.equal(newSocket(limb(), '2025-09-24'), null);
  assert.deepEqual(newSocket(limb({ wear_schedule: schedule }), '2025-09-29'), { day: 20, hours: 12 });
});

test('between two steps of the schedule the earlier one holds', () => {
  assert.deepEqual(newSocket(limb({ wear_schedule: schedule }), '2025-09-11'), { day: 2, hours: 1 });
});

test('a retired socket and one not fitted yet are not new', () => {
  assert.equal(newSocket(limb({ retired_on: '2025-09-11' }), '2025-09-12'), null);
  assert.equal(newSocket(limb(), '2025-09-09'), null);
});
