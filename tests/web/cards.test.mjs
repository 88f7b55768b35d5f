import assert from 'node:assert/strict';
import { test } from 'node:test';

import { cardsFor, hasOtherFoot, newSocket, tipOf } from '../../web/phone/ui/cards.js';

const limb = (more) => ({ sockets: [{ fitted_on: '2025-09-10', retired_on: null, wear_schedule: null, ...more }] });
const schedule = [{ day: 1, hours: 1 }, { day: 3, hours: 4 }, { day: 20, hours: 12 }];

test('the day of the fitting is day 1', () => assert.deepEqual(newSocket(limb(), '2025-09-10'), { day: 1, hours: null, steps: [] }));

test('a socket is new for two weeks, or for as long as its schedule runs', () => {
  assert.equal(newSocket(limb(), '2025-09-24'), null);
  assert.deepEqual(newSocket(limb({ wear_schedule: schedule }), '2025-09-29'), { day: 20, hours: 12, steps: schedule });
});

test('between two steps of the schedule the earlier one holds', () => {
  assert.deepEqual(newSocket(limb({ wear_schedule: schedule }), '2025-09-11'), { day: 2, hours: 1, steps: schedule });
});

test('a retired socket and one not fitted yet are not new', () => {
  assert.equal(newSocket(limb({ retired_on: '2025-09-11' }), '2025-09-12'), null);
  assert.equal(newSocket(limb(), '2025-09-09'), null);
});

const DAYS = Array.from({ length: 31 }, (_, i) => `2025-09-${String(i + 1).padStart(2, '0')}`);
const tips = (about) => new Set(DAYS.map((day) => tipOf(day, about)));

test('the other foot is no tip for who has two prostheses, nor once in a while for who should look daily', () => {
  assert.ok(tips({ otherFoot: true, careful: false }).has('tip.5'));
  assert.ok(!tips({ otherFoot: false, careful: false }).has('tip.5'));
  assert.ok(!tips({ otherFoot: true, careful: true }).has('tip.5'));
  assert.deepEqual([hasOtherFoot({ limbs: [{}] }), hasOtherFoot({ limbs: [{}, {}] })], [true, false]);
});

test('who feels less looks several times a day, and each day at the other foot, if there is one', () => {
  const said = (otherFoot) => cardsFor({ today: '2025-09-15', careful: true, rules: {}, advice: [], standing: {},
    settings: {}, person: { limbs: otherFoot ? [{}] : [{}, {}] } }, { sockets: [] }).join(' ');
  assert.match(said(true), /several times a day.*other foot too, every day/);
  assert.match(said(false), /several times a day/);
  assert.doesNotMatch(said(false), /other foot/);
});

test('planned hours stand beside no advice that holds for any limb, nor is wearing a new socket coached there', () => {
  const said = (more) => cardsFor({
    today: '2025-09-15', now: new Date('2025-09-15T10:00:00'), careful: true, rules: {}, advice: [], standing: {},
      settings: {}, person: { limbs: [{ id: 'a' }, { id: 'b' }] }, ...more,
  }, { id: 'a', ...limb({ wear_schedule: schedule }) }).join(' ');
  assert.match(said({}), /New socket[^]*Your plan for today: 4 hours/);
  const stop = [{ level: 'stop_wear' }];
  for (const more of [{ standing: { a: stop } }, { standing: { b: stop } },
    { standing: { a: [{ level: 'call_clinic' }] } }, { rules: null }]) {
    assert.doesNotMatch(said(more), /New socket|plan for today|own clinic/, JSON.stringify(more));
    assert.match(said(more), /several times a day/); // looking goes against nothing
  }
  assert.match(said({ advice: stop }), /New socket/); // of an old entry that was looked at, and no longer holds
});
