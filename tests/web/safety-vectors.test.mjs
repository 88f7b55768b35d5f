import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';

import { evaluate } from '../../web/shared/safety.js';

const read = (path) => JSON.parse(readFileSync(new URL(path, import.meta.url)));
const RULES = read('../../web/shared/safety-rules.json');
const { day, cases } = read('../published/safety-vectors.json');
const ago = (days) => new Date(Date.parse(`${day}T00:00Z`) - days * 86_400_000).toISOString().slice(0, 10);

for (const { name, checkin, person = {}, earlier = [], redness_minutes, expect } of cases) {
  test(`the table the server reads too: ${name}`, () => {
    const before = earlier.map((one) => ({ id: `c${one.days_ago}`, date: ago(one.days_ago), ...one }));
    const said = { id: 'c0', date: day, ...checkin };
    assert.deepEqual(evaluate(RULES, said, { ...person, redness_minutes, earlier: before }).map(({ id }) => id),
      expect);
  });
}
