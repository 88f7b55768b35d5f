import assert from 'node:assert/strict';
import { test } from 'node:test';

import { checkinOf, draftOf, drawerOf, lastStack, missing, newDraft, shownStep, tapFinding, unasked, wholeDraft,
  withdrawalOf } from '../../web/phone/checkin.js';
import { uuid7 } from '../../web/phone/ids.js';

const NOW = new Date(2025, 8, 15, 7, 40);
const WHO = { id: 'c1', now: NOW, device_id: 'd1' };
const sock = (ply, make = 'single') => ({ ply, make });

test('a new draft has no answer in it', () => {
  const draft = newDraft('l', NOW);
  assert.deepEqual([draft.stack, draft.comfort, draft.fit, draft.skin, draft.pain], [[], null, null, null, null]);
  assert.deepEqual(missing(draft), ['socks', 'comfort']);
});

test('no sock at all is an answer', () => {
  assert.deepEqual(missing({ ...newDraft('l', NOW), bare: true, comfort: 0 }), []);
});

test('only what was said is sent', () => {
  const said = checkinOf({ ...newDraft('l', NOW), stack: [{ ...sock(3), name: 'Blue one', colour: 2 }], comfort: 8 }, WHO);
  assert.deepEqual(said.stack, [sock(3)]);
  assert.deepEqual([said.date, said.time, said.moment, said.prefilled, said.skin_checked], ['2025-09-15', '07:40', 'putting_on', false, false]);
});

test('"all fine, I looked" counts as looked; "I did not look" does not', () => {
  const draft = { ...newDraft('l', NOW), stack: [sock(1)], comfort: 8 };
  assert.equal(checkinOf({ ...draft, skin: 'fine' }, WHO).skin_checked, true);
  assert.equal(checkinOf({ ...draft, skin: 'not_looked' }, WHO).skin_checked, false);
});

test('findings of a skin answer taken back are not sent', () => {
  const draft = tapFinding({ ...newDraft('l', NOW), stack: [sock(1)], comfort: 8 }, 'calf', 'blister');
  assert.deepEqual(checkinOf({ ...draft, skin: 'fine' }, WHO).skin, []);
});

test('a finding tapped twice is gone', () => {
  const once = tapFinding(newDraft('l', NOW), 'calf', 'blister');
  assert.equal(once.findings.length, 1);
  assert.deepEqual(tapFinding(once, 'calf', 'blister').findings, []);
});

test('another day has no time of its own', () => {
  assert.equal(checkinOf({ ...newDraft('l', NOW), date: '2025-09-13', stack: [sock(1)], comfort: 5 }, WHO).time, null);
});

test('a form opened before midnight keeps its day', () => {
  const draft = { ...newDraft('l', new Date(2025, 8, 14, 23, 58)), stack: [sock(1)], comfort: 5 };
  assert.equal(checkinOf(draft, { ...WHO, now: new Date(2025, 8, 15, 0, 3) }).date, '2025-09-14');
});

test('a correction names what it replaces and keeps the rest', () => {
  const first = checkinOf({ ...newDraft('l', NOW), stack: [sock(3)], comfort: 8, note: 'hot' }, WHO);
  const draft = draftOf({ id: 'c1', state: 'kept', checkin: first }, NOW);
  const second = checkinOf({ ...draft, comfort: 4 }, { ...WHO, id: 'c2' });
  assert.deepEqual([second.replaces, second.comfort, second.note, second.time], ['c1', 4, 'hot', '07:40']);
});

test('mending a refused entry does not claim to replace what was never kept', () => {
  const first = checkinOf({ ...newDraft('l', NOW), stack: [sock(3)], comfort: 8 }, WHO);
  const draft = draftOf({ id: 'c1', state: 'refused', checkin: first }, NOW);
  assert.deepEqual([draft.replaces, draft.mends], [null, 'c1']);
});

test('taking back is a new entry marked so', () => {
  const first = checkinOf({ ...newDraft('l', NOW), stack: [sock(3)], comfort: 8 }, WHO);
  const back = withdrawalOf({ id: 'c1', checkin: first }, { ...WHO, id: 'c3' });
  assert.deepEqual([back.id, back.replaces, back.withdrawn, back.comfort], ['c3', 'c1', true, 8]);
});

test('the drawer shows own socks first, then those met in the log', () => {
  const rows = [{ checkin: { stack: [sock(5), sock(1)] } }, { checkin: { stack: [sock(5)] } }];
  const drawer = drawerOf([{ ...sock(1), name: 'Thin' }], rows);
  assert.deepEqual(drawer.map((one) => one.name ?? one.ply), ['Thin', 5]);
});

test('"the same as" never offers a refused stack or one of a later day', () => {
  const row = (date, state) => ({ state, checkin: { date, stack: [sock(1)] } });
  assert.equal(lastStack([row('2025-09-16', 'kept'), row('2025-09-15', 'refused'), row('2025-09-14', 'kept')], '2025-09-15').checkin.date, '2025-09-14');
});

test('ids sort by the time they were made, and say version 7', () => {
  const [early, late] = [uuid7(1_700_000_000_000), uuid7(1_700_000_000_001)];
  assert.ok(early < late);
  assert.match(early, /^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/);
});

test('an id is the one of the published example for its time and random bits', () => {
  // RFC 9562, appendix A.6: unix_ts_ms 0x017F22E279B0, rand_a 0xCC3, rand_b 0x18C4DC0C0C07398F.
  const random = Uint8Array.from([0x0c, 0xc3, 0x18, 0xc4, 0xdc, 0x0c, 0x0c, 0x07, 0x39, 0x8f]);
  assert.equal(uuid7(0x017f22e279b0, random), '017f22e2-79b0-7cc3-98c4-dc0c0c07398f');
});

const DAY = { ...newDraft('l', NOW), stack: [sock(1)], comfort: 8 };
const skinOf = (draft) => checkinOf({ ...DAY, ...draft }, WHO).skin;
const other = (place) => [{ place, finding: 'other', redness_minutes: null }];

test('"I found something" and no more is a finding, never "All fine, I looked"', () => {
  assert.deepEqual(skinOf({ skin: 'found' }), other('not_said'));
  assert.deepEqual(skinOf({ skin: 'found', photos: ['p'] }), other('not_said'));
});

test('a place without a finding is something else at that place, beside what was said elsewhere', () => {
  assert.deepEqual(skinOf({ skin: 'found', place: 'calf' }), other('calf'));
  const blister = { place: 'brim', finding: 'blister', redness_minutes: null };
  assert.deepEqual(skinOf({ skin: 'found', place: 'calf', findings: [blister] }), [blister, ...other('calf')]);
  assert.deepEqual(skinOf({ skin: 'found', place: 'brim', findings: [blister] }), [blister]);
  assert.deepEqual(skinOf({ skin: 'fine', place: 'calf' }), []);
});

test('corrected, "not said where" gives way to what is said then', () => {
  const first = checkinOf({ ...DAY, skin: 'found' }, WHO);
  const draft = draftOf({ id: 'c1', state: 'kept', checkin: first }, NOW);
  assert.equal(draft.skin, 'found');
  assert.deepEqual(skinOf(draft), other('not_said'));
  assert.deepEqual(skinOf(tapFinding(draft, 'calf', 'rash')), [{ place: 'calf', finding: 'rash', redness_minutes: null }]);
});

test('redness has to say how long it lasted, or that this is not known', () => {
  const red = tapFinding({ ...DAY, skin: 'found' }, 'calf', 'redness');
  assert.deepEqual(missing(red), ['skin']);
  const answered = (more) => ({ ...red, findings: [{ ...red.findings[0], ...more }] });
  assert.deepEqual(missing(answered({ redness_minutes: 20 })), []);
  assert.deepEqual(missing(answered({ unknown: true })), []);
  assert.deepEqual(skinOf(answered({ unknown: true })), [{ place: 'calf', finding: 'redness', redness_minutes: null }]);
  assert.deepEqual(missing({ ...red, skin: 'fine' }), []);
  assert.equal(unasked(draftOf({ id: 'c1', state: 'kept', checkin: checkinOf(answered({ unknown: true }), WHO) }, NOW))
    .length, 0);
});

test('a check-in says whether the signs of danger were asked', () => {
  assert.equal(checkinOf(DAY, WHO).signs_checked, false);
  const said = checkinOf({ ...DAY, danger: 'asked' }, WHO);
  assert.equal(said.signs_checked, true);
  assert.equal(draftOf({ id: 'c1', state: 'kept', checkin: said }, NOW).danger, 'asked');
});

test('neither "All fine" nor "I did not look" drops a sign of danger', () => {
  for (const skin of ['fine', 'not_looked', 'found', null]) {
    assert.deepEqual(checkinOf({ ...DAY, skin, signs: ['confusion', 'sock_stuck'] }, WHO).signs, ['confusion', 'sock_stuck']);
  }
});

test('the signs of danger come first, in a draft of an older app too, and not again in a correction', () => {
  const danger = ['confusion'];
  assert.equal(shownStep(newDraft('l', NOW), danger), 'danger');
  const { danger: _, ...old } = { ...DAY, step: 'skin' };
  assert.equal(shownStep(old, danger), 'danger');
  assert.equal(shownStep({ ...old, danger: 'asked' }, danger), 'skin');
  assert.equal(shownStep(draftOf({ id: 'c1', state: 'kept', checkin: checkinOf(DAY, WHO) }, NOW), danger), 'review');
  assert.equal(shownStep(newDraft('l', NOW), []), 'socks');
});

test('a draft kept before a question was asked says nothing to it, and can be gone on with', () => {
  const known = newDraft('l', new Date(2025, 8, 15, 7, 30));
  for (const name of ['healing', 'left_off', 'signs', 'tags', 'photos']) {
    const { [name]: _, ...old } = { ...known, stack: [{ ply: 3, make: 'single' }], skin: 'fine', comfort: 8 };
    const about = { id: 'x', now: new Date(2025, 8, 15, 7, 40), device_id: 'd' };
    assert.deepEqual(checkinOf(wholeDraft(old), about), checkinOf({ ...old, [name]: known[name] }, about), name);
  }
});
