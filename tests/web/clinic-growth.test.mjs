/** What says that a child outgrows a socket is of that socket. */

import assert from 'node:assert/strict';
import { test } from 'node:test';

import { growth } from '../../web/clinic/ui/growth.js';
import { later } from '../../web/clinic/when.js';

const TODAY = '2026-11-26';
const sock = (...plies) => plies.map((ply) => ({ ply, make: 'single' }));
const line = (back, stack, mm, signs = []) =>
  ({ date: later(TODAY, -back), morning: { stack, stack_mm: mm }, signs, weight: null });
const text = (lines, fitted_back) => String(growth({
  as_of: TODAY, measurements: [], sockets: [{ fitted_on: later(TODAY, -200), retired_on: later(TODAY, -fitted_back) },
    { fitted_on: later(TODAY, -fitted_back), retired_on: null, stack_at_fitting: sock(5, 3), baseline_unsure: false }],
}, lines)).replace(/<[^>]*>/g, ' ').replace(/\s+/g, ' ');

const OUTGROWN = [20, 12, 8, 5].map((back) => line(back, [], 0, ['cannot_get_fully_in']));

test('socks of the socket before are not those of this one', () => {
  const fresh = text([...OUTGROWN, line(1, sock(5, 3), 2.7)], 3);
  assert.doesNotMatch(fresh, /It is falling|No sock left/);
  assert.match(fresh, /About the same/);
  assert.match(text(OUTGROWN, 3), /too little logged/);
  assert.doesNotMatch(text(OUTGROWN, 3), /No sock left/);
});

test('nor are the signs that it was outgrown', () => {
  assert.match(text(OUTGROWN, 3), /Signs of an outgrown socket none reported since 23 Nov/);
  assert.match(text(OUTGROWN, 30), /Signs of an outgrown socket .*6 Nov/);
});

test('in the socket worn it is said when the socks come to an end, and of which morning', () => {
  const worn = text(OUTGROWN, 30);
  assert.match(worn, /It is falling/);
  assert.match(worn, /No sock left No sock in the morning of 21 Nov/);
});
