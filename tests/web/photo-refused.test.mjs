import assert from 'node:assert/strict';
import { test } from 'node:test';

import { homeScreen } from '../../web/phone/ui/home.js';

const limb = { id: 'a', side: 'left', sockets: [] };
const person = { id: 'p', name: 'Anouk', limbs: [limb], account: {} };
const row = (id, date, line = [id]) =>
  ({ id, line, state: 'kept', checkin: { id, date, stack: [], comfort: 8, skin: [], signs: [] } });
const home = (rows, refused) => String(homeScreen({
  person, people: [person], role: 'wearer', today: '2025-09-15', rowsOf: { a: rows },
    refusedPhotos: refused.map((checkin_id) => ({ checkin_id })),
  standing: {}, answers: {}, drafts: [], notices: [], seen: {}, visits: [],
    outbox: { waiting: 0, refused: 0, stuck: 0 }, careful: false, now: new Date(), settings: {}, begun: [],
}));
const notices = (page) => page.match(/<p class="notice bad">[^<]*<\/p>/g) ?? [];

test('a photo the clinic could not take is told of on the first page, with its day', () => {
  const [said, ...more] = notices(home([row('c1', '2025-09-12')], ['c1']));
  assert.match(said, /12\sSeptember/);
  assert.match(said, /photo/i);
  assert.deepEqual(more, []);
});

test('two photos of one day are told of once, and one of an entry that was corrected too', () => {
  assert.equal(notices(home([row('c2', '2025-09-12', ['c1', 'c2'])], ['c1', 'c2'])).length, 1);
  assert.equal(notices(home([row('c1', '2025-09-12'), row('c2', '2025-09-13')], ['c1', 'c2'])).length, 2);
});

test('nothing is said where none was refused, of an old one, or of an entry that is not on this phone', () => {
  assert.deepEqual(notices(home([row('c1', '2025-09-12')], [])), []);
  assert.deepEqual(notices(home([row('c1', '2025-08-12')], ['c1'])), []);
  assert.deepEqual(notices(home([row('c1', '2025-09-12')], ['gone'])), []);
});
