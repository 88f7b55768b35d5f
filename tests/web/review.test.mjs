import assert from 'node:assert/strict';
import { test } from 'node:test';

import { checkinOf, newDraft } from '../../web/phone/checkin.js';
import { formScreen } from '../../web/phone/ui/form.js';
import { savedScreen } from '../../web/phone/ui/saved.js';
import { viewOf } from '../../web/phone/view.js';

globalThis.window ??= globalThis;
Object.defineProperty(globalThis, 'navigator', { value: { userAgent: 'test', language: 'en-GB' }, configurable: true });

const NOW = new Date(2025, 8, 15, 7, 40);
const limb = (id, side) => ({ id, side, level: 'transtibial', sockets: [] });
const account = { device_id: 'd', role: 'wearer', clinic: { name: 'Yard' } };
const person = { id: 'p', name: 'Anouk', born_on: '1968-04-02', tags: [], limbs: [limb('l', 'left'), limb('r', 'right')] };

function screenOf(draft, { now = NOW, account: about = {} } = {}) {
  const owner = { ...account, ...about, people: [person] };
  const app = {
    screen: 'form', params: {}, accounts: [owner], settings: {}, rows: {}, drafts: [], drawers: {}, outbox: {},
      pictures: { ph1: 'blob:1' },
    draft, flags: new Set(), diary: { keeps: true }, rules: null, now: () => now,
    people: () => [{ ...person, account: owner }], person: () => ({ ...person, account: owner }),
      limb: () => person.limbs[0],
  };
  return viewOf(app);
}

const textOf = (markup) => String(markup).replace(/<style.*?<\/style>|<[^>]+>/gs, ' ').replace(/\s+/g, ' ');

/** The review without the fields below it: what is read before Save. */
const review = (draft, more) => String(formScreen(screenOf({ ...draft, step: 'review' }, more))).split('<details')[0];

// What each field of a check-in looks like when it says something, and what the wearer must then read.
const SAID = {
  limb_id: [{ limb_id: 'l' }, 'Left leg'],
  date: [{ date: '2025-09-13' }, '13 September'],
  time: [{ time: '06:15' }, '06:15'],
  moment: [{ moment: 'end_of_day' }, 'End of the day'],
  stack: [{ stack: [{ ply: 5, make: 'blend' }] }, '5‑ply, Mixed yarn'],
  prefilled: [{ prefilled: true }, 'Same socks as before'],
  fit: [{ fit: 'tight' }, 'Tight'],
  signs_checked: [{ danger: 'asked' }, 'None of these'],
  signs: [{ signs: ['cold_pale_limb', 'fewer_clicks', 'severe_pain'] }, 'cold and pale', 'Fewer clicks', 'Very bad pain'],
  comfort: [{ comfort: 3 }, '3 of 10'],
  pain: [{ pain: 9 }, '9 of 10'],
  skin: [{ skin: 'found', findings: [{ place: 'calf', finding: 'redness', redness_minutes: 30 }] }, 'Red or darker skin', 'Calf', '30 minutes'],
  skin_checked: [{ skin: 'fine' }, 'All fine, I looked'],
  hours_worn: [{ hours_worn: 7.5 }, '7.5'],
  activity: [{ activity: 'less' }, 'Less'],
  falls: [{ falls: 2 }, 'Falls', '2'],
  weight_kg: [{ weight_kg: 81.5 }, '81.5 kg'],
  tags: [{ tags: ['dialysis', 'travel'] }, 'Dialysis and Travel'],
  note: [{ note: 'walked to the market' }, 'walked to the market'],
  left_off: [{ left_off: 'cannot_say' }, 'Left the socket off', 'I can’t say'],
  healing: [{ skin: 'found', findings: [{ place: 'calf', finding: 'rash', redness_minutes: null }], healing: [{ place: 'calf', course: 'worse' }] }, 'Calf: Worse'],
  photos: [{ photos: ['ph1', 'ph2'] }, '2 photos'],
  replaces: [{ replaces: 'c0' }, 'What should it say?'],
};
// Not said by the wearer: the phone adds these.
const OWN = ['id', 'offset', 'zone', 'withdrawn', 'written_at', 'written_by'];

test('the review shows every field a check-in can hold', () => {
  const bare = { ...newDraft('l', NOW), stack: [{ ply: 1, make: 'single' }], comfort: 8, moment: 'during' };
  const fields = Object.keys(checkinOf(bare, { id: 'c', now: NOW, device_id: 'd' })).filter((field) => !OWN.includes(field));
  for (const field of fields) {
    const [set, ...words] = SAID[field] ?? [];
    assert.ok(set, `${field} is kept: say here how it looks, and show it on the review`);
    const shown = textOf(review({ ...bare, ...set }));
    for (const word of words) assert.ok(shown.includes(word), `${field}: "${word}" is not on the review: ${shown}`);
    if (field !== 'limb_id') {
      const without = textOf(review(bare));
      assert.ok(words.some((word) => !without.includes(word)), `${field}: its words stand there anyway`);
    }
  }
});

test('each line of the review leads to where it is answered', () => {
  const draft = Object.assign({ ...newDraft('l', NOW), stack: [], comfort: 8 }, ...Object.values(SAID)
    .map(([set]) => set));
  const shown = review({ ...draft, replaces: null });
  const rows = shown.split('class="answer"').slice(1);
  assert.ok(rows.length >= 13, rows.length);
  for (const one of rows) assert.match(one, /data-do="day\.(step|field)" data-arg="\w+"/);
});

test('thumbnails of the photos that will be kept stand beside their number', () => {
  const shown = review({ ...newDraft('l', NOW), comfort: 8, bare: true, photos: ['ph1'] });
  assert.match(shown, /1 photo.*<img src="blob:1"/s);
});

test('"today" is said of today only', () => {
  const draft = { ...newDraft('l', NOW), stack: [{ ply: 1, make: 'single' }], comfort: 8, skin: 'fine' };
  for (const step of ['socks', 'fit', 'comfort', 'skin', 'review']) {
    const said = (date) => textOf(formScreen(screenOf({ ...draft, step, date }))).replace(/today: (Y|S)/, '');
    assert.match(said('2025-09-15'), /Today, /, step);
    assert.match(said('2025-09-14'), /Yesterday, Sun/, step);
    assert.match(said('2025-09-14'), /This is for another day, not/, step);
  }
});

test('a day that turned while the form was open is asked about before all else', () => {
  const draft = { ...newDraft('l', new Date(2025, 8, 14, 22, 0)), stack: [], step: 'review' };
  const shown = textOf(formScreen(screenOf(draft)));
  assert.match(shown, /Which day is this for\?/);
  assert.match(shown, /Yesterday, Sunday 14 September.*Today, Monday 15 September/s);
});

test('a number the clinic would refuse is marked at its field and on its line', () => {
  const draft = { ...newDraft('l', NOW), bare: true, comfort: 8, hours_worn: 30, step: 'review' };
  const shown = String(formScreen(screenOf(draft)));
  assert.equal(shown.split('This must be a number from 0 to 24 hours.').length, 3);
  assert.match(shown, /id="hours_worn"[^>]*aria-invalid="true" aria-describedby="hours_worn-fault"/s);
});

test('weight is asked for as it should be measured', () => {
  assert.match(textOf(formScreen(screenOf({ ...newDraft('l', NOW), step: 'review' }))), /Weight In the morning, with the leg off/);
});

const saved = (row, about) => {
  const view = screenOf(null, { account: about });
  return textOf(savedScreen({ ...view, entry: { limb_id: 'l', account: 'd',
    checkin: { date: '2025-09-15', stack: [], comfort: 8, hours_worn: 30 }, ...row }, rowsOf: {}, standing: {} }));
};

test('nothing says "all written down" or "on its way" of what was refused or will not be fetched', () => {
  const refused = saved({ state: 'refused', errors: { hours_worn: ['no'] } });
  assert.match(refused, /This needs a fix.*Hours worn: This must be.*Fix: Hours worn/s);
  const unlinked = saved({ state: 'waiting' }, { unlinked: true });
  assert.match(unlinked, /no longer linked\. Ask for a new code.*Type a code/s);
  for (const text of [refused, unlinked]) assert.doesNotMatch(text, /All written down|on its way|will be sent/);
  assert.match(saved({ state: 'waiting' }), /All written down.*on its way/s);
});
