import assert from 'node:assert/strict';
import { test } from 'node:test';

import { age, ahead, ago, day, daysBetween, dayNumber, fromNumber, later } from '../../web/clinic/when.js';

test('days are counted on the calendar, over summer time and leap days', () => {
  assert.equal(daysBetween('2026-03-28', '2026-03-30'), 2);
  assert.equal(later('2024-02-28', 2), '2024-03-01');
  assert.equal(fromNumber(dayNumber('1999-12-31')), '1999-12-31');
});

test('an age turns on the birthday', () => {
  assert.equal(age('2017-11-20', '2026-11-19'), 8);
  assert.equal(age('2017-11-20', '2026-11-20'), 9);
});

test('the year is said where it is not this one', () => {
  assert.equal(day('2026-11-03', '2026'), '3 Nov');
  assert.equal(day('2025-11-03', '2026'), '3 Nov 2025');
});

test('near days have words', () => {
  assert.deepEqual([ago(0), ago(1), ago(9), ago(null)], ['today', 'yesterday', '9 days ago', 'never']);
  assert.deepEqual([ahead(0), ahead(1), ahead(9)], ['today', 'tomorrow', 'in 9 days']);
});
