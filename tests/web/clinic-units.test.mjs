import assert from 'node:assert/strict';
import { test } from 'node:test';

import { parse, shown } from '../../web/clinic/units.js';

const mm = (text, unit) => parse(text, unit)?.value;

test('lengths are read as people write them', () => {
  assert.equal(mm('298', 'mm'), 298);
  assert.equal(mm('29,8', 'cm'), 298);
  assert.ok(Math.abs(mm('11 3/4 in', 'mm') - 298.45) < 1e-9);
  assert.ok(Math.abs(mm('11 3/4"', 'mm') - 298.45) < 1e-9);
  assert.ok(Math.abs(mm('3/4', 'in') - 19.05) < 1e-9);
});

test('weights are read in kilograms and pounds', () => {
  assert.ok(Math.abs(mm('170 lb', 'kg') - 77.11070) < 1e-4);
  assert.ok(Math.abs(mm('170', 'lb') - 77.11070) < 1e-4);
  assert.equal(mm('77.5', 'kg'), 77.5);
});

test('what can’t be read is null, never a guess', () => {
  for (const text of ['', 'abc', '12 stone', '1/0', '-4', '1e3', '3 4', '10 kg']) assert.equal(parse(text, 'mm'), null, text);
  assert.equal(parse('10 mm', 'kg'), null);
});

test('a value is shown in the unit asked for', () => {
  assert.equal(shown(298.45, 'in'), '11.8');
  assert.equal(shown(298.45, 'cm'), '29.8');
  assert.equal(shown(null, 'mm'), '');
});
