import assert from 'node:assert/strict';
import { test } from 'node:test';

import { sentenceOf, weekOf } from '../../web/phone/sentence.js';
import { plusDays } from '../../web/phone/when.js';

const TODAY = '2026-03-01'; // the month turns within every run
const sock = (ply) => ({ ply, make: 'single' });
const row = (ago, { ply = [3], make = 'single', comfort = 7, skin = [], looked = false, signs = [], state = 'kept' } = {}) => ({
  state, checkin: { date: plusDays(TODAY, -ago), stack: ply.map((one) => ({ ply: one, make })), comfort, skin, signs,
    skin_checked: looked },
});
const rows = (...days) => days.map(([ago, said]) => row(ago, said));
const SPOT = [{ place: 'calf', finding: 'redness', redness_minutes: 5 }];
const five = [0, 1, 2, 3, 4].map((ago) => [ago, { looked: true, ply: [ago % 2 ? 3 : 5] }]);
const A = { ply: [5, 1], comfort: 9 };
const B = { ply: [3], comfort: 6 };

const CASES = [
  ['nothing written, nothing said', [], null],
  ['nothing of today, nothing said', rows([1], [2], [3]), null],
  ['the first day of all', rows([0]), { key: 'first' }],
  ['two days are no run, and not the first', rows([0], [1]), null],
  ['the same socks three days in a row', rows([0], [1], [2]), { key: 'socks', n: 3, stack: [sock(3)] }],
  ['a missing day ends the run', rows([0], [1], [3], [4]), null],
  ['other socks in between end it', rows([0], [1, { ply: [5] }], [2]), { key: 'days', n: 3 }],
  ['a day with two kinds of socks ends it', rows([0], [1], [1, { ply: [5] }], [2]), { key: 'days', n: 3 }],
  ['socks in another order are another stack', rows([0, { ply: [1, 3] }], [1, { ply: [3, 1] }], [2, { ply: [1, 3] }]), { key: 'days', n: 3 }],
  ['without a sock there is no sock to name', rows([0, { ply: [] }], [1, { ply: [] }], [2, { ply: [] }]), { key: 'days', n: 3 }],
  ['five looks in a row, all fine', rows(...five), { key: 'skin', n: 5 }],
  ['a day not looked at ends the looks', rows(...five.slice(0, 4), [4, { ply: [5] }]), { key: 'days', n: 5 }],
  ['something found ends them', rows(...five.slice(0, 4), [4, { ply: [5], looked: true, skin: SPOT }]), { key: 'days', n: 5 }],
  ['something found today is nothing to praise', rows([0, { skin: SPOT, looked: true }], [1], [3]), null],
  ['nor is the best day of all with something found', rows([0, { comfort: 9, skin: SPOT }], [2], [4], [6], [8], [10]), null],
  ['nor a run with a sign', rows([0, { signs: ['slips_up_and_down'] }], [1], [2]), null],
  ['better than each of five other days', rows([0, { comfort: 8 }], [2], [4], [6], [8], [10]), { key: 'best', n: 8 }],
  ['as good as another day is not the best', rows([0, { comfort: 8 }], [2, { comfort: 8 }], [4], [6], [8], [10]), null],
  ['better than four is too few to say so', rows([0, { comfort: 8 }], [2], [4], [6], [8]), null],
  ['a better hour does not mend a worse one of the same day', rows([0, { comfort: 9 }], [0, { comfort: 2 }], [2], [4], [6], [8], [10]), null],
  ['a day older than four weeks counts for nothing', rows([0, { comfort: 8 }], [2], [4], [6], [8], [28]), null],
  ['socks with the clearly best days, when they are on', rows([0, A], [2, A], [4, A], [6, B], [8, B], [10, B]), { key: 'stack', stack: [sock(5), sock(1)] }],
  ['never of socks that are not on', rows([0, B], [2, B], [4, B], [6, A], [8, A], [10, A]), null],
  ['too close to call', rows([0, { ...A, comfort: 6.5 }], [2, { ...A, comfort: 6.5 }], [4, { ...A, comfort: 6.5 }],
    [6, B], [8, B], [10, B]), null],
  ['two days in a kind of sock are too few', rows([0, A], [2, A], [6, B], [8, B], [10, B]), null],
  ['what the clinic refused is not counted', rows([0], [1, { state: 'refused' }], [2]), null],
  ['a day that has not come says nothing', rows([-1], [0], [1]), null],
  ['not the best where a better hour was said on a day that was worse later', rows([0, { comfort: 8 }], [2, { comfort: 9 }], [2, { comfort: 3 }], [4], [6], [8], [10]), null],
  ['of two entries of the best day its best is the best', rows([0, { comfort: 8 }], [0, { comfort: 9 }], [2], [4], [6], [8], [10]), { key: 'best', n: 9 }],
  ['the least bad day is nothing to praise', rows([0, { comfort: 4 }], ...[2, 4, 6, 8, 10].map((ago) => [ago, { comfort: 3 }])), null],
  ['not the most comfortable socks where others, worn too seldom to be a group, were better', rows([0, A], [2, A], [4, A], [6, B], [8, B], [10, B], [12, { ply: [6], comfort: 10 }]), null],
  ['nor where the others had the one best day', rows([0, A], [2, A], [4, A], [6, { ...B, comfort: 10 }],
    [8, { ...B, comfort: 4 }], [10, { ...B, comfort: 4 }]), null],
  ['nor where a day of two kinds was better', rows([0, A], [2, A], [4, A], [6, B], [8, B], [10, B],
    [12, { ...A, comfort: 10 }], [12, { ...B, comfort: 10 }]), null],
  ['one good day in them is not days', rows([0, { ...A, comfort: 6 }], [2, { ...A, comfort: 10 }],
    [4, { ...A, comfort: 6 }], [6, { ...B, comfort: 6 }], [8, { ...B, comfort: 6 }], [10, { ...B, comfort: 6 }]), null],
  ['nor where its words would be those of other socks: the same plies in another order',
    rows([0, A], [2, A], [4, A], [6, { ply: [1, 5], comfort: 6 }], [8, { ply: [1, 5], comfort: 6 }],
    [10, { ply: [1, 5], comfort: 6 }]), null],
  ['nor of another make', rows(...[0, 2, 4].map((ago) => [ago, { ply: [3], comfort: 9 }]),
    ...[6, 8, 10].map((ago) => [ago, { ply: [3], comfort: 6, make: 'blend' }])), null],
  ['never of socks in which something was found on the skin', rows([0, A], [2, { ...A, skin: SPOT }], [4, A], [5, A], [6, B], [8, B], [10, B]), null],
  ['nor of socks in which there was a sign', rows([0, A], [2, { ...A, signs: ['cannot_get_fully_in'] }], [4, A], [5, A], [6, B], [8, B], [10, B]), null],
  ['a day with a sign was not all fine', rows(...five.slice(0, 3), [3, { looked: true, ply: [3], signs: ['fast_spreading_redness'] }], five[4]), { key: 'days', n: 5 }],
  ['a run is as long as it is', rows(...Array.from({ length: 60 }, (_, ago) => [ago])), { key: 'socks', n: 60, stack: [sock(3)] }],
  ['not the first, where one that the clinic refused was before', rows([0], [9, { state: 'refused' }]), null],
  ['nor where one has the date of a day to come', rows([-1], [0]), null],
];

for (const [what, given, said] of CASES) {
  test(what, () => assert.deepEqual(sentenceOf(given, { today: TODAY }), said));
}

test('comfort in a socket before says nothing about socks in this one', () => {
  const given = rows([0, A], [2, A], [4, A], [6, B], [8, B], [10, B]);
  assert.equal(sentenceOf(given, { today: TODAY, fitted: plusDays(TODAY, -5) }), null);
});

test('a week is seven days up to today, with those that were written', () => {
  const week = weekOf(rows([0], [1, { comfort: 4 }], [3, { comfort: 9 }], [6], [7, { comfort: 0 }]), TODAY);
  assert.deepEqual(week.days.map((day) => day.on), [true, false, false, true, false, true, true]);
  assert.deepEqual([week.days[0].date, week.n, week.low, week.high, week.socks], ['2026-02-23', 4, 4, 9, [sock(3)]]);
});

test('the comfort of a week is from the least to the most of all entries', () => {
  const week = weekOf(rows([0], [1, { comfort: 9 }], [1, { comfort: 4 }]), TODAY);
  assert.deepEqual([week.low, week.high], [4, 9]);
});

test('while not all entries are here, none is called the first, and nothing is counted', () => {
  assert.equal(sentenceOf(rows([0]), { today: TODAY, whole: false }), null);
  assert.equal(sentenceOf(rows([0], [1], [2]), { today: TODAY, whole: false }), null);
});

/** Any diary: what is said of it is looked up in its entries again, by hand. */
test('of any diary nothing is said that its entries do not bear out', () => {
  let seed = 16;
  const some = (n) => (seed = (seed * 48_271) % 2_147_483_647) % n;
  const said = {};
  for (let turn = 0; turn < 4_000; turn += 1) {
    const kinds = [[3], [5], [], [5, 1]].slice(0, 1 + some(4));
    const given = Array.from({ length: 1 + some(40) }, (_, ago) => ago).filter(() => some(8))
      .flatMap((ago) => Array.from({ length: some(7) ? 1 : 2 }, () => row(ago, {
      ply: kinds[some(kinds.length)], comfort: some(3) ? 6 + some(3) : some(11), looked: some(9) > 0, skin: some(40)
        ? [] : SPOT, signs: some(40) ? [] : ['sock_stuck'], state: some(40) ? 'kept' : 'refused',
    })));
    const found = sentenceOf(given, { today: TODAY });
    if (!found) continue;
    said[found.key] = (said[found.key] ?? 0) + 1;
    const words = `${JSON.stringify(found)} of ${JSON.stringify(given)}`;
    const of = (ago) => given.filter((one) => one.state !== 'refused' && one.checkin.date === plusDays(TODAY, -ago))
      .map((one) => one.checkin);
    const lately = given.filter((one) => one.state !== 'refused' && one.checkin.date > plusDays(TODAY, -28))
      .map((one) => one.checkin);
    const inThem = (one) => JSON.stringify(one.stack) === JSON.stringify(found.stack);
    assert.ok(of(0).every((one) => !one.skin.length && !one.signs.length), words);
    const days = Array.from({ length: found.n && found.key !== 'best' ? found.n : 0 }, (_, ago) => of(ago));
    assert.ok(days.every((day) => day.length), words);
    if (found.key === 'first') assert.equal(new Set(given.map((one) => one.checkin.date)).size, 1, words);
    if (found.key === 'best') assert.ok(lately.every((one) => one.comfort < found.n ||
      (one.comfort === found.n && one.date === TODAY)), words);
    if (found.key === 'socks') assert.ok(days.flat().every(inThem), words);
    if (found.key === 'skin') assert.ok(days.flat()
      .every((one) => one.skin_checked && !one.skin.length && !one.signs.length), words);
    if (found.key === 'stack') {
      const other = Math.max(...lately.filter((one) => !inThem(one)).map((one) => one.comfort));
      assert.ok(new Set(lately.filter((one) => inThem(one) && one.comfort > other).map((one) => one.date))
        .size >= 3, words);
      assert.ok(lately.filter(inThem).every((one) => !one.skin.length && !one.signs.length), words);
    }
  }
  assert.deepEqual(Object.keys(said).sort(), ['best', 'days', 'first', 'skin', 'socks', 'stack']);
});

test('socks of half a week are not those of the week', () => {
  assert.equal(weekOf(rows([0], [1], [2], [3, { ply: [5] }]), TODAY).socks, null);
  assert.equal(weekOf([], TODAY).n, 0);
});
