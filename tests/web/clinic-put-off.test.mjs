import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';

import { choicesFor, latestFor } from '../../web/clinic/put-off.js';

const RULES = JSON.parse(readFileSync(new URL('../../web/shared/safety-rules.json', import.meta.url))).rules;
const TODAY = '2025-09-15';

test('an emergency is put off by the week the server takes, and no day beyond it is offered', () => {
  const emergency = { rule: 'emergency-chest' };
  assert.equal(latestFor(emergency, TODAY), '2025-09-22');
  assert.deepEqual(choicesFor(emergency, TODAY, '2025-09-30').map(([date]) => date), ['2025-09-16', '2025-09-18', '2025-09-22']);
  assert.deepEqual(choicesFor(emergency, TODAY, '2025-09-20').map(([date]) => date), ['2025-09-16', '2025-09-18', '2025-09-22', '2025-09-20']);
});

test('anything else has no such limit', () => {
  for (const rule of [null, undefined, 'stop-wear-skin']) assert.equal(latestFor({ rule }, TODAY), null);
  assert.equal(choicesFor({ rule: null }, TODAY, '2025-09-30').length, 5);
});

test('each rule that is an emergency is known by its id', () => {
  for (const rule of RULES) assert.equal(latestFor({ rule: rule.id }, TODAY) !== null, rule.level === 'emergency', rule.id);
});
