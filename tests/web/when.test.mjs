import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { test } from 'node:test';

import { ageOn, daysBetween, middayOf, plusDays } from '../../web/phone/when.js';

const MODULE = new URL('../../web/phone/when.js', import.meta.url);

/** The module's word for an instant, in a process that lives in another time zone. */
function inZone(zone, instant) {
  const script = `import { localDate, localTime, offsetText } from '${MODULE}';
    const now = new Date('${instant}'); console.log(localDate(now), localTime(now), offsetText(now));`;
  return execFileSync(process.execPath, ['--input-type=module', '-e', script], { env: { TZ: zone } }).toString().trim();
}

const ZONES = [
  // the instant, as the wall clock there shows it (the zone database's offsets)
  ['Pacific/Kiritimati', '2025-09-15T09:59:00Z', '2025-09-15 23:59 +14:00'],
  ['Pacific/Kiritimati', '2025-09-15T10:01:00Z', '2025-09-16 00:01 +14:00'],
  ['Pacific/Pago_Pago', '2025-09-15T10:59:00Z', '2025-09-14 23:59 -11:00'],
  ['Asia/Kathmandu', '2025-09-15T18:16:00Z', '2025-09-16 00:01 +05:45'],
  ['America/Sao_Paulo', '2025-09-15T02:59:00Z', '2025-09-14 23:59 -03:00'],
  ['Europe/Berlin', '2025-03-30T00:59:00Z', '2025-03-30 01:59 +01:00'],
  ['Europe/Berlin', '2025-03-30T01:00:00Z', '2025-03-30 03:00 +02:00'],
  ['Europe/Berlin', '2025-10-26T00:30:00Z', '2025-10-26 02:30 +02:00'],
  ['Europe/Berlin', '2025-10-26T01:30:00Z', '2025-10-26 02:30 +01:00'],
];

for (const [zone, instant, wall] of ZONES) {
  test(`the date is the wearer's own: ${zone} at ${instant}`, () => assert.equal(inZone(zone, instant), wall));
}

test('days are counted by the calendar, over a clock change and a leap day', () => {
  assert.equal(daysBetween('2025-03-29', '2025-03-31'), 2);
  assert.equal(daysBetween('2024-02-28', '2024-03-01'), 2);
  assert.equal(daysBetween('2025-09-15', '2025-09-14'), -1);
});

test('a day later and a day earlier cross months and years', () => {
  assert.equal(plusDays('2025-12-31', 1), '2026-01-01');
  assert.equal(plusDays('2024-03-01', -1), '2024-02-29');
});

test('a calendar date is shown as the day it names', () => {
  assert.equal(middayOf('2025-09-15').getDate(), 15);
});

test('age counts whole years', () => {
  assert.equal(ageOn('2017-11-20', '2025-11-19'), 7);
  assert.equal(ageOn('2017-11-20', '2025-11-20'), 8);
  assert.equal(ageOn(null, '2025-11-20'), null);
});
