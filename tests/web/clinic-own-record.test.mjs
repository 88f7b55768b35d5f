import assert from 'node:assert/strict';
import { test } from 'node:test';

import { figureCells } from '../../web/clinic/ui/own-record.js';

const cells = (figure) => figureCells(figure).map((cell) => String(cell).replace(/<[^>]*>/g, ''));
const interval = (value, low, high) => ({ value, low, high });

test('too few people are words, and never a figure', () => {
  assert.deepEqual(cells({ unit: 'days', interval: null, people: 1, cases: 1 }), ['too few for a figure', '', '1 person, 1 case']);
  assert.deepEqual(cells({ unit: 'share', interval: null, people: 0, cases: 0 }), ['', '', 'nothing to count yet']);
});

test('a figure has its range, its unit and of how many it is made', () => {
  assert.deepEqual(cells({ unit: 'share', interval: interval(0.8, 0.72, 0.86), people: 40, cases: 61 }), ['80 in 100', '72 to 86 in 100', '40 people, 61 cases']);
  assert.deepEqual(cells({ unit: 'days', interval: interval(118, 1, 140), people: 9, cases: 9 }), ['118 days', '1 day to 140 days', '9 people, 9 cases']);
  assert.deepEqual(cells({ unit: 'mm', interval: interval(2.2, 1.5, 3), people: 9, cases: 12 })[0], 'about 5+1-ply, 2.2 mm');
  assert.deepEqual(cells({ unit: 'points', interval: interval(1.5, -0.5, 2), people: 9, cases: 12 })[1], '−0.5 to +2.0');
  assert.deepEqual(cells({ unit: 'hours', interval: interval(20, 1, 72), people: 9, cases: 12 })[1], '1 hour to 3 days');
});

test('days are called days, and what the log did not tell is named', () => {
  assert.equal(cells({ code: 'good-share', unit: 'share', interval: interval(0.9, 0.8, 0.95), people: 9, cases: 900 })[2], '9 people, 900 days');
  assert.equal(cells({ code: 'steady-28', unit: 'share', interval: interval(0.9, 0.8, 0.95), people: 9, cases: 12, left_out: 3 })[2], '9 people, 12 cases; 3 more not told by the log');
  assert.equal(cells({ code: 'steady-90', unit: 'share', interval: null, people: 0, cases: 0, left_out: 2 })[2], 'nothing to count yet; 2 more not told by the log');
});
