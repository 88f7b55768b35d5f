/** Hours written in one field, and the days of a wear schedule. */

import assert from 'node:assert/strict';
import test from 'node:test';
import { scheduleOf, scheduleText } from '../../web/clinic/wear-schedule.js';

test('hours are read whatever parts them, and shown again', () => {
  const days = [{ day: 1, hours: 2 }, { day: 2, hours: 4.5 }, { day: 3, hours: 24 }];
  assert.deepEqual(scheduleOf('2, 4.5;24 '), days);
  assert.equal(scheduleText(days), '2, 4.5, 24');
  assert.equal(scheduleOf(''), null);
  assert.equal(scheduleText(null), null);
});

test('what is no number of hours is said at its field', () => {
  for (const hours of ['x', '25', '-1']) {
    assert.throws(() => scheduleOf(`2 ${hours}`), (fault) => fault.fields.wear_schedule[0].includes(hours));
  }
});
