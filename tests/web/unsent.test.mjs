/** The days of entries that are nowhere but on this phone are kept apart, so that their loss is noticed. */

import assert from 'node:assert/strict';
import { test } from 'node:test';

const kept = new Map();
globalThis.localStorage =
  { getItem: (key) => kept.get(key) ?? null, setItem: (key, text) => kept.set(key, String(text)) };
const { markUnsent, unsentBefore } = await import('../../web/phone/diary.js');

const row = (date, state, more) => ({ state, checkin: { date }, ...more });
const after = (...rows) => {
  markUnsent(rows);
  return unsentBefore();
};

test('a day that waits is nowhere else, nor is one the clinic could not take', () => {
  assert.deepEqual(after(row('2026-01-01', 'waiting'), row('2025-12-31', 'refused')), ['2025-12-31', '2026-01-01']);
});

test('a day is named once; what is with the clinic, or was written again, is not lost', () => {
  assert.deepEqual(after(row('2026-01-01', 'waiting'), row('2026-01-01', 'waiting'), row('2025-12-30', 'kept'), row('2025-12-29', 'mended'), row('2025-12-28', 'waiting', { again: true })), ['2026-01-01']);
  assert.deepEqual(after(), []);
});
