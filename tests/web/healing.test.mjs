import assert from 'node:assert/strict';
import { test } from 'node:test';

import { checkinOf, draftOf, newDraft, withCourse } from '../../web/phone/checkin.js';
import { askedAfter, placesOf } from '../../web/shared/healing.js';
import { threadsOf } from '../../web/clinic/healing.js';

const at = (finding = 'blister', place = 'limb_end') => ({ place, finding, redness_minutes: null });
const entry = (day, skin = [], more = {}) => ({ id: `c${day}`, date: `2025-11-${String(day).padStart(2, '0')}`, skin, skin_checked: true, photos: [], healing: [], ...more });
const on = (day) => `2025-11-${String(day).padStart(2, '0')}`;
const asked = (entries, day) => askedAfter(entries, on(day)).map((one) => one.place);

test('a place found on an earlier day is asked after, until two later looks were clear', () => {
  const log = [entry(3, [at()])];
  assert.deepEqual(asked(log, 3), []); // not on its own day
  assert.deepEqual(asked(log, 4), ['limb_end']);
  log.push(entry(4));
  assert.deepEqual(asked(log, 5), ['limb_end']);
  log.push(entry(5));
  assert.deepEqual(asked(log, 6), []);
  log.push(entry(6, [at('redness')]));
  assert.deepEqual(asked(log, 7), ['limb_end']);
});

test('a day on which nobody looked is no clear look; two entries of a day are one look', () => {
  const log = [entry(3, [at()]), entry(4, [], { skin_checked: false }), entry(5), { ...entry(5), id: 'again' }];
  assert.deepEqual(asked(log, 6), ['limb_end']);
  assert.equal(placesOf(log)[0].clear, 1);
});

test('found in one entry of a day and not in the other, it was found', () => {
  assert.equal(placesOf([entry(3, [at()]), entry(4), { ...entry(4, [at()]), id: 'later' }])[0].last, on(4));
});

test('each place is its own; the one found last stands first; what was not said where is not asked after', () => {
  const log = [entry(3, [at(), at('other', 'not_said')]), entry(4, [at('redness', 'calf'), at()])];
  assert.deepEqual(asked(log, 5).sort(), ['calf', 'limb_end']);
  log.push(entry(5, [at('redness', 'calf')]), entry(6, [at('redness', 'calf')]));
  assert.deepEqual(asked(log, 7), ['calf']);
});

test('after thirty days without a word nobody asks', () => {
  assert.deepEqual(askedAfter([entry(3, [at()])], '2025-12-03').length, 1);
  assert.deepEqual(askedAfter([entry(3, [at()])], '2025-12-04').length, 0);
});

const NOW = new Date('2025-11-04T08:00:00');
const written = (draft) => checkinOf(draft, { id: 'x', now: NOW, device_id: 'd' });
const told = (course, draft = newDraft('l', NOW), found = [at()]) => ({ ...draft, ...withCourse(draft, 'limb_end', course, found) });

for (const course of ['better', 'same', 'worse']) {
  test(`${course}: what was found is found again, so that every rule hears it as before`, () => {
    const said = written(told(course));
    assert.deepEqual(said.skin, [at()]);
    assert.deepEqual(said.healing, [{ place: 'limb_end', course }]);
    assert.equal(said.skin_checked, true);
  });
}

test('redness carried on must still say how long it lasted', () => {
  const draft = told('same', undefined, [{ ...at('redness'), redness_minutes: 5 }]);
  assert.deepEqual(draft.findings, [{ ...at('redness'), redness_minutes: null }]);
});

test('gone: nothing is found there, and the rest of the skin is still asked', () => {
  const draft = told('gone');
  assert.equal(draft.skin, null);
  const gone = [{ place: 'limb_end', course: 'gone' }];
  const said = ({ skin, skin_checked, healing }) => [skin, skin_checked, healing];
  // kept, and no clear look
  for (const skin of [null, 'not_looked']) assert.deepEqual(said(written({ ...draft, skin })), [[], false, gone]);
  assert.deepEqual(asked([entry(3, [at()]), { ...written(draft), date: on(4) }, { ...written(draft), date: on(5) }], 6),
    ['limb_end']);
  const fine = written({ ...draft, skin: 'fine' });
  assert.deepEqual([fine.skin, fine.healing], [[], [{ place: 'limb_end', course: 'gone' }]]);
});

test('from same to gone what was carried on goes, what was tapped by hand stays and is what counts', () => {
  const same = told('same');
  assert.deepEqual(told('gone', same).findings, []);
  const byHand = { ...same, findings: [...same.findings, at('open_skin')] };
  const gone = told('gone', byHand);
  assert.deepEqual(gone.findings, [at('open_skin')]);
  assert.deepEqual(written(gone).skin, [at('open_skin')]);
  assert.deepEqual(written(gone).healing, []); // it can't be gone and open
});

test('a course tapped twice is taken back, with what it carried on', () => {
  const again = told('same', told('same'));
  assert.deepEqual([again.healing, again.findings, again.skin], [[], [], null]);
});

test('a place in words no list has is asked after like any other, and its words come back whole', async () => {
  const { days } = await import('../../web/phone/acts/days.js');
  const { howNow } = await import('../../web/phone/ui/healing.js');
  const log = [entry(3, [at('blister', 'left of the scar')])];
  const draft = newDraft('l', NOW);
  const shown = String(howNow({ rowsOf: { l: log.map((checkin) => ({ checkin })) }, limb: { id: 'l' }, pictures: {},
    today: on(4) }, draft));
  assert.match(shown, /id="healing-left_of_the_scar-same"/);
  const [, arg] = shown.match(/id="healing-left_of_the_scar-same" data-do="day.course" data-arg="([^"]*)"/);
  const app = { draft, drafts: [], params: {}, paint() {}, diary: { putDraft: async () => {} }, leave: async () => {},
    standing: () => log.map((checkin) => ({ checkin })) };
  days['day.course'](app, arg);
  assert.deepEqual(app.draft.findings, [at('blister', 'left of the scar')]);
  app.draft.findings = [at('redness', 'left of the scar')];
  days['day.minutes'](app, '20 left of the scar');
  clearTimeout(app.pausing);
  assert.equal(app.draft.findings[0].redness_minutes, 20);
});

test('every place that is followed is asked after, however many: what is not asked would be cleared unasked', async () => {
  const { followed, howNow } = await import('../../web/phone/ui/healing.js');
  const places = ['limb_end', 'calf', 'outer_bump', 'shin_front', 'brim'];
  const view = { rowsOf: { l: [{ checkin: entry(3, places.map((place) => at('blister', place))) }] }, limb: { id: 'l' },
    pictures: {}, today: on(4) };
  const shown = String(howNow(view, newDraft('l', NOW)).join(''));
  assert.deepEqual(places.filter((place) => !shown.includes(`id="healing-${place}-gone"`)), []);
  assert.equal(String(followed(view)).split('Blister').length - 1, places.length);
});

const tapping = async (draft, log = []) => {
  const { days } = await import('../../web/phone/acts/days.js');
  const app = { draft: { ...draft, step: 'skin' }, drafts: [], params: {}, went: null, paint() {},
    go(_, { step }) { app.went = step; }, diary: { putDraft: async () => {} }, leave: async () => {}, standing: () =>
    log.map((checkin) => ({ checkin })) };
  globalThis.window = { scrollTo() {} };
  globalThis.document = { querySelector: () => null };
  return { app, tap(verb, arg) { days[verb](app, arg); clearTimeout(app.pausing); } };
};

for (const skin of ['fine', 'not_looked']) {
  for (const course of ['better', 'same', 'worse']) {
    test(`${skin} tapped after ${course} means the rest of the skin: the place stays found, and is still ${course}`, async () => {
      const { app, tap } = await tapping(newDraft('l', NOW), [entry(3, [at()])]);
      tap('day.course', `${course} limb_end`);
      tap('day.skin', skin);
      const said = written(app.draft);
      assert.deepEqual([said.skin, said.skin_checked, said.healing], [[at()], true, [{ place: 'limb_end', course }]]);
      assert.equal(app.went, 'review');
    });
  }

  test(`${skin} tapped after a course that was taken back, or after gone, is what it says`, async () => {
    const { app, tap } = await tapping(newDraft('l', NOW), [entry(3, [at()])]);
    tap('day.course', 'worse limb_end');
    tap('day.course', 'worse limb_end');
    tap('day.skin', skin);
    assert.deepEqual([app.draft.skin, written(app.draft).skin, written(app.draft).healing], [skin, [], []]);
    tap('day.course', 'worse limb_end');
    tap('day.course', 'gone limb_end');
    tap('day.skin', skin);
    assert.deepEqual([app.draft.skin, written(app.draft).skin, written(app.draft).healing],
      [skin, [], [{ place: 'limb_end', course: 'gone' }]]);
  });
}

test('“all fine” after a redness that is the same asks how long it lasted', async () => {
  const { app, tap } = await tapping(newDraft('l', NOW), [entry(3, [at('redness')])]);
  tap('day.course', 'same limb_end');
  tap('day.skin', 'fine');
  assert.equal(app.went, null);
  assert.match(app.params.error, /how long the red lasted/);
});

test('a finding taken back by hand takes its course with it, so that all fine is all fine', async () => {
  const { app, tap } = await tapping(newDraft('l', NOW), [entry(3, [at()])]);
  tap('day.course', 'same limb_end');
  app.draft.findings = [];
  app.draft.place = null;
  tap('day.skin', 'fine');
  assert.deepEqual([written(app.draft).skin, written(app.draft).skin_checked, written(app.draft).healing],
    [[], true, []]);
});

test('a correction begins with the courses that were said', () => {
  const said = written(told('better'));
  assert.deepEqual(draftOf({ id: 'x', state: 'kept', checkin: said }, NOW).healing, said.healing);
});

const healed = (day, place = 'limb_end') => ({ what: 'healed', place, on: on(day) });
const whole = (entries, events = []) => threadsOf(entries, events)
  .map((one) => [one.place, one.last, one.clear, one.healed?.on ?? null, one.done]);

test('a thread is done when two looks were clear and the clinic wrote that it healed, in either order', () => {
  const log = [entry(3, [at()]), entry(4)];
  assert.deepEqual(whole(log, [healed(4)]), [['limb_end', on(3), 1, on(4), false]]);
  log.push(entry(5));
  assert.deepEqual(whole(log), [['limb_end', on(3), 2, null, false]]);
  assert.deepEqual(whole(log, [healed(4)]), [['limb_end', on(3), 2, on(4), true]]);
});

test('found again after it healed, it is a new thread; a word that it healed of before is none for it', () => {
  const log = [entry(3, [at()]), entry(4), entry(5), entry(9, [at('redness')])];
  assert.deepEqual(whole(log, [healed(5)]), [['limb_end', on(9), 0, null, false], ['limb_end', on(3), 2, on(5), true]]);
  assert.deepEqual(whole(log), [['limb_end', on(9), 0, null, false]]);
});

test('opened again, it is not healed', () => {
  assert.equal(threadsOf([entry(3, [at()])], [healed(4), { what: 'open', place: 'limb_end', on: on(4) }])[0].healed, null);
});

test('photos stand with the look they came with, and places in older words are the same place', () => {
  const log = [entry(3, [at('blister', 'distal end')], { photos: ['p1'] }), entry(4, [at()], { photos: ['p2'] }), entry(5, [], { photos: ['other'] })];
  const [thread] = threadsOf(log, []);
  assert.deepEqual(thread.looks.map((look) => look.photos), [['p1'], ['p2'], []]);
});

test('sizes stand with the thread of their day', () => {
  const size = { what: 'size', place: 'limb_end', on: on(10), length_mm: 8 };
  const log = [entry(3, [at()]), entry(4), entry(9, [at()])];
  assert.deepEqual(threadsOf(log, [healed(4), size]).map((one) => one.sizes.length), [1, 0]);
});

const event = (what, day, more = {}) => ({ id: `${what}${day}`, what, place: 'limb_end', on: on(day), ...more });

test('the last word counts: opened once, it is open, however often it was called healed', () => {
  const log = [entry(3, [at()]), entry(4), entry(5)];
  assert.deepEqual(whole(log, [event('healed', 5), event('healed', 5), event('open', 6)]), [['limb_end', on(3), 2, null, false]]);
  const again = [...log, entry(9, [at()])];
  const events = [event('healed', 5), event('healed', 10), event('open', 11)];
  // the thread before stays done
  assert.deepEqual(whole(again, events), [['limb_end', on(9), 0, null, false], ['limb_end', on(3), 2, on(5), true]]);
});

for (const course of ['better', 'same', 'worse']) {
  test(`${course} without a finding is no clear look`, () => {
    const log = [entry(3, [at()]), entry(4), entry(5, [], { healing: [{ place: 'limb_end', course }] }), entry(6)];
    assert.equal(placesOf(log)[0].clear, 1);
    assert.deepEqual(asked(log, 7), ['limb_end']);
    assert.equal(threadsOf(log, [healed(4)])[0].healed, null); // said of before
  });
}

test('a place that is still there is asked after for thirty days from that word', () => {
  const log = [entry(3, [at()]), entry(9, [], { healing: [{ place: 'limb_end', course: 'same' }] })];
  assert.equal(askedAfter(log, '2025-12-09').length, 1);
});

test('a look at another place alone is no look at this one; “gone” without the rest of the skin is told and clears nothing', () => {
  const elsewhere = (day, more = {}) => entry(day, [at('redness', 'calf')], { skin_checked: false, ...more });
  const log = [entry(3, [at()]), elsewhere(4), elsewhere(5)];
  assert.deepEqual(placesOf(log).map((one) => [one.place, one.clear]), [['calf', 0], ['limb_end', 0]]);
  log.push(elsewhere(6, { healing: [{ place: 'limb_end', course: 'gone' }] }));
  const end = () => placesOf(log).find((one) => one.place === 'limb_end');
  assert.deepEqual([end().looks.at(-1).course, end().clear], ['gone', 0]);
  log.push(entry(7, [], { healing: [{ place: 'limb_end', course: 'gone' }] }));
  assert.equal(end().clear, 1);
});

test('what was found at a place not said has a thread at the clinic; found elsewhere next, it is not clear', () => {
  const log = [entry(3, [at('open_skin', 'not_said')]), entry(4, [at()]), entry(5)];
  assert.deepEqual(whole(log), [['limb_end', on(4), 1, null, false], ['not_said', on(3), 1, null, false]]);
  assert.deepEqual(placesOf(log).map((one) => one.place), ['limb_end']);
  const worse = [...log, entry(6, [], { healing: [{ place: 'limb_end', course: 'worse' }] })];
  assert.deepEqual(threadsOf(worse, []).map((one) => one.clear), [0, 1]); // there is something, it may be the same
});

test('what the clinic wrote stands, though the entry was corrected since', () => {
  const size = event('size', 4, { length_mm: 8 });
  const [gone] = threadsOf([entry(3), entry(4)], [size, event('healed', 5)]);
  assert.deepEqual([gone.place, gone.looks, gone.records.map((one) => one.what), gone.done, gone.latest],
    ['limb_end', [], ['size', 'healed'], false, false]);
  const moved = threadsOf([entry(3, [at('blister', 'calf')])], [size]);
  assert.deepEqual(moved.map((one) => [one.place, one.records.length]), [['calf', 0], ['limb_end', 1]]);
  // it was found on an earlier day, that was corrected
  const later = threadsOf([entry(6, [at()])], [event('healed', 5)]);
  assert.deepEqual(later.map((one) => [one.healed, one.records.length]), [[null, 1]]);
});
