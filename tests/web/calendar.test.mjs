import assert from 'node:assert/strict';
import { test } from 'node:test';

import { folded, reminderFile } from '../../web/phone/calendar.js';

const about = { summary: 'Zeit; für, den Eintrag', from: '2025-09-15', stamp: '20250915T120000Z', uid: 'u' };

test('no line is longer than 75 bytes (RFC 5545, 3.1), and nothing is lost by folding', () => {
  const long = `SUMMARY:${'ä'.repeat(90)}`;
  for (const line of folded(long).split('\r\n')) assert.ok(new TextEncoder().encode(line).length <= 75);
  assert.equal(folded(long).replaceAll('\r\n ', ''), long);
});

test('commas, semicolons and backslashes in text are escaped (RFC 5545, 3.3.11)', () => {
  assert.match(reminderFile(['08:00'], about), /SUMMARY:Zeit\\; für\\, den Eintrag\r\n/);
});

test('times are floating and every line ends as it must', () => {
  const text = reminderFile(['08:00', '20:30'], about);
  assert.match(text, /DTSTART:20250915T203000\r\n/);
  assert.equal(/[^\r]\n/.test(text), false);
});
