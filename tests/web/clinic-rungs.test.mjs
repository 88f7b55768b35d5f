import assert from 'node:assert/strict';
import { test } from 'node:test';

import { bodyMap } from '../../web/clinic/ui/bodymap.js';
import { chips, plyStrip } from '../../web/clinic/ui/marks.js';
import { stackPicture, tidePicture } from '../../web/clinic/ui/paper.js';
import { stackPlot } from '../../web/clinic/ui/plots.js';
import { plyTicks, stripOf } from '../../web/clinic/ui/ply.js';
import { rungs, sockWords } from '../../web/clinic/ui/rungs.js';
import { wornNow } from '../../web/clinic/ui/worn-now.js';
import { dayNumber, later } from '../../web/clinic/when.js';
import { inPly, plies } from '../../web/clinic/words.js';

const ONE = { ply: 1, make: 'single' };
const FIVE = { ply: 5, make: 'single' };
const strip = (mm, more) => ({ until: '2026-11-26', mm, now: [FIVE, ONE], now_on: '2026-11-26',
  was: [{ ply: 3, make: 'single' }], fitted_mm: 0.7, ...more });
const row = (urgency, more) => ({
  limb_id: `limb-${urgency}`, urgency, state: 'due', since: '2026-11-01', why: 'Because.', spark: [], lacks: [], signals: [], reading_tags: [], silent_days: 0,
  next_visit: null, side: 'left', level: 'transtibial', person: { id: 'p', name: 'Wren', age: 52, telephones: [] },
    strip: strip(Array(28).fill(1.2)), ...more,
});
const text = (limbs, more) => rungs(limbs, { asOf: '2026-11-26', everyone: [], quiet: 0, unfolded: false, ...more })
  .map(String).join('').replace(/<[^>]*>/g, ' ').replace(/\s+/g, ' ');
const markup = (limbs, more) => rungs(limbs, { asOf: '2026-11-26', everyone: [], quiet: 0, unfolded: false, ...more })
  .map(String).join('');

test('rungs without a row are not there: a small list shows no noughts', () => {
  assert.equal(markup([]), '');
  assert.ok(markup([row(2)]).startsWith('<h2'));
  assert.match(text([row(2)]), /^ ?Call this week/);
});

test('a row whose log is newer than its reading says as of when it is, and no other does', () => {
  const at = new Date();
  at.setHours(9, 5, 0, 0);
  const behind = row(2, { assessed_at: at.toISOString(), news_at: new Date().toISOString() });
  assert.match(text([behind]), /no visit as of 09:05 /);
  assert.match(text([{ ...behind, assessed_at: null }]), /as of an earlier day/, 'read by a server that did not note when');
  assert.match(text([{ ...behind, assessed_at: '2025-03-04T09:05:00+00:00' }]), /as of 4 Mar 2025, /);
  assert.doesNotMatch(text([row(2, { assessed_at: at.toISOString(), news_at: null })]), /as of/);
});

test('those with nothing asked fold into one line, unless they are all there is', () => {
  assert.match(markup([row(2), row(0)], { quiet: 15 }), /<details class="folded" id="quiet"><summary>/);
  assert.match(text([row(2), row(0)], { quiet: 15 }), /Nothing asked: 15 limbs/);
  assert.match(markup([row(0)]), /<details class="folded" id="quiet" open>/);
  assert.match(markup([row(2), row(0)], { unfolded: true }), /id="quiet" open>/);
});

test('ply first: now, and what it was where that is something else', () => {
  const words = (one) => String(sockWords(one)).replace(/<[^>]*>/g, '');
  assert.equal(words(strip([])), '5+1 ply, was 3');
  assert.equal(words(strip([], { was: null })), '5+1 ply');
  assert.equal(words(strip([], { now: [], was: [FIVE] })), 'no sock, was 5');
  assert.equal(words(null), 'no morning socks known');
  assert.equal(words(strip([], { now_on: '2026-11-23' })), '5+1 ply, was 3');
  assert.equal(words(strip([], { now_on: '2026-11-22' })), '22 Nov: 5+1 ply, was 3', 'who logs evenings only is not silent, and what they put on is old');
  assert.equal(plies([ONE, { ply: 0, make: 'unknown' }, FIVE, { ply: 3, make: 'blend' }]), '5+1-ply and 3-ply blend and a sheath');
  assert.match(text([row(2, { spark: [{ date: '2026-11-26', pct: -16.2 }] })]), /5\+1 ply , was 3.*due.*−16\.2 %/);
});

test('more sock hangs lower, on the same scale in every row, and a silent day is a gap', () => {
  const heights = (mm) => [...String(plyStrip(strip(mm))).match(/class="tide" d="([^"]+)"/)[1].matchAll(/V([\d.]+)/g)].map(([, y]) => Number(y));
  const [thin, thick] = heights([0.7, 4.5]);
  assert.ok(thick > thin);
  assert.equal(heights([0.7, 0.7])[0], thin, 'the scale does not depend on the row');
  assert.deepEqual(heights([7, 9]).map((y) => y <= 34), [true, true]);
  assert.equal(String(plyStrip(strip([0.7, null, 0.7]))).match(/class="tide"/g).length, 2);
  assert.match(String(plyStrip(strip([null, null]))), /no morning socks known/);
  assert.match(String(plyStrip(null)), /no morning socks known/);
});

test('in words the strip says on which day the last stack was worn, and counts mornings as mornings', () => {
  assert.match(String(plyStrip(strip([1.2, null, 1.2]))), /2 mornings known: 3-ply four weeks ago, 5\+1-ply now"/);
  assert.match(String(plyStrip(strip([1.2, 1.2, null], { now_on: '2026-11-25', was: null }))), /2 mornings known: 5\+1-ply on 25 Nov"/);
});

test('a new socket breaks the line and is named', () => {
  const made = String(plyStrip(strip(Array(28).fill(1.2), { socket_on: '2026-11-17', was: null })));
  assert.equal(made.match(/class="tide"/g).length, 2);
  assert.match(made, /class="epoch"/);
  assert.match(made, /a new socket on 17 Nov/);
});

test('on paper, too, a new socket breaks the line and nothing jumps', () => {
  const band = Array.from({ length: 40 }, (_, i) =>
    ({ date: later('2026-10-01', i), pct: i < 20 ? -10 : 0, low: i < 20 ? -12 : -1, high: i < 20 ? -8 : 1 }));
  const drawn = (sockets) => String(tidePicture(band, sockets));
  assert.equal(drawn([{ fitted_on: '2026-06-01' }]).match(/class="tide"/g).length, 1);
  const two = drawn([{ fitted_on: '2026-06-01' }, { fitted_on: '2026-10-21' }]);
  assert.equal(two.match(/class="tide"/g).length, 2);
  assert.match(two, /Volume from 21 Oct to 9 Nov, against the fitting day: 0\.0 % to 0\.0 %/);
  const lines = band.map(({ date }) =>
    ({ date, day: dayNumber(date), morning: { stack: [FIVE], stack_mm: 1.5 }, evening: null }));
  assert.equal(String(stackPicture(lines, '2026-11-09', [{ fitted_on: '2026-10-21' }])).match(/class="tide"/g).length, 2);
});

test('what a page works out of the log is what the server sends of it', () => {
  const lines = [27, 26, 9, 2, 0].map((back) => ({ day: 20783 - back,
    morning: { moment: 'putting_on', stack: back > 9 ? [ONE] : [FIVE, ONE], stack_mm: back > 9 ? 0.7 : 2.2 } }));
  const found = stripOf(lines, '2026-11-26', [{ fitted_on: '2026-08-01', retired_on: null, stack_at_fitting: [ONE] }]);
  assert.deepEqual([found.mm[0], found.mm[2], found.mm[27], found.now_on, found.fitted_mm], [0.7, null, 2.2, '2026-11-26', 0.7]);
  assert.deepEqual([found.was, found.now, found.socket_on], [[ONE], [FIVE, ONE], null]);
  const new_socket = stripOf(lines, '2026-11-26', [{ fitted_on: '2026-11-17', retired_on: null, stack_at_fitting: null }]);
  assert.deepEqual([new_socket.was, new_socket.socket_on, new_socket.fitted_mm], [null, '2026-11-17', null]);
});

test('on a page, too, what was is of an earlier week and of the same fit', () => {
  const line = (back, stack, mm) => ({ date: later('2026-11-26', -back), day: 20783 - back,
    morning: { moment: 'putting_on', stack, stack_mm: mm }, evening: null });
  const sockets = [{ id: 's', fitted_on: '2026-08-01', retired_on: null, stack_at_fitting: [ONE] }];
  const silent = [line(27, [ONE], 0.7), line(26, [ONE], 0.7), line(22, [FIVE], 1.5)];
  assert.deepEqual([stripOf(silent, '2026-11-26', sockets).was,
    stripOf([...silent, line(20, [FIVE], 1.5)], '2026-11-26', sockets).was], [null, [ONE]]);
  const lines = [line(27, [FIVE, ONE], 2.2), line(0, [ONE], 0.7)];
  const was = (pads) => stripOf(lines, '2026-11-26', sockets, pads).was;
  const pad = (socket_id, on) => ({ socket_id, on, thickness_mm: 1.5 });
  assert.deepEqual([[], [pad('s', '2026-10-01')], [pad('t', '2026-11-20')], [pad('s', '2026-11-20')]].map(was), [[FIVE, ONE], [FIVE, ONE], [FIVE, ONE], null]);
  const story = (pads) => ({ as_of: '2026-11-26', sockets, pads });
  assert.match(String(wornNow(story([]), lines)), /was 5\+1-ply four weeks ago/);
  assert.doesNotMatch(String(wornNow(story([pad('s', '2026-11-20')]), lines)), /four weeks ago/);
});

test('another make of the same label was not something else', () => {
  const line = (back, make, mm) => ({ date: later('2026-11-26', -back), day: 20783 - back,
    morning: { moment: 'putting_on', stack: [{ ply: 3, make }], stack_mm: mm }, evening: null });
  const sockets = [{ id: 's', fitted_on: '2026-08-01', retired_on: null }];
  const made = String(wornNow({ as_of: '2026-11-26', sockets, pads: [] }, [line(27, 'unknown', 0.95), line(0, 'single', 1.2)]));
  assert.match(made, /3-ply/);
  assert.doesNotMatch(made, /four weeks ago/);
});

test('the axis is in the stacks that were worn, those worn most often, with room between', () => {
  const line = (stack, mm) => ({ morning: { stack, stack_mm: mm } });
  const lines = [...Array(5).fill(line([ONE], 0.7)), line([{ ply: 1, make: 'blend' }], 0.4), ...Array(3)
    .fill(line([FIVE, ONE], 2.2)), line([FIVE, FIVE, FIVE, ONE, ONE], 5.9)];
  assert.deepEqual(plyTicks(lines, 0.5).map(({ words }) => words), ['no sock', '1', '5+1', '5 socks']);
});

test('a smaller limb goes down: more sock is lower in the stack and in the outlook', () => {
  const lines = [{ date: '2026-11-26', day: 20783, morning: { stack: [ONE], stack_mm: 0.7 }, evening: null, tags: ['illness'] }];
  const story = { as_of: '2026-11-26', sockets: [{ fitted_on: '2026-08-01', purpose: 'definitive',
    stack_at_fitting: [ONE] }], pads: [{ on: '2026-11-20', thickness_mm: 1.5, place: 'shin_front', socket_id: 's' }] };
  const { plot, says, key } = stackPlot(story, lines);
  assert.ok(plot.y.down);
  assert.equal(plot.marks[0].label, 'pad 1.5 mm, tibial crest');
  assert.equal(plot.bands.length, 1);
  assert.match(says, /Lower is more sock: a smaller limb/);
  assert.ok(key.some(([, words]) => words === 'illness'));
});

test('millimetres of sock are said in ply first', () => {
  assert.deepEqual([0, 0.1, -0.3, 0.4, 0.7, -0.8, 1.3, 2.1, 9].map(inPly), ['no more and no less sock', 'no more and no less sock', 'less than a 1-ply less', 'less than a 1-ply more',
    'about a 1-ply more', 'about a 1-ply less', 'about a 3-ply more', 'about 5+1-ply more', 'more than 5+5+5-ply more']);
});

test('left and right are true, and the limb carries skin, pads and photos', () => {
  const skin = [{ place: 'outer_bump', finding: 'blister', redness_minutes: null }];
  const lines = [{ date: '2026-11-20', skin, looked: true, said: [{ skin, photos: ['photo-1'] }] }];
  const pads = [{ place: 'shin_front', thickness_mm: 1.5, on: '2026-11-01' }];
  const views = (side) => String(bodyMap({ side, level: 'transtibial' }, lines, 6, pads)).split('<figure>').slice(1);
  const at = (drawn) => Number(drawn.match(/class="place severe"><path d="M([\d.]+) /)[1]);
  const [left, right] = ['left', 'right'].map((side) => views(side)[0]);
  assert.ok(at(left) > 60 && at(right) < 60, 'seen from the front, the outer side of a left limb is on the right');
  assert.match(left, /x="120"[^>]*>lat</);
  assert.match(right, /x="0"[^>]*>lat</);
  for (const drawn of [left, right]) {
    assert.match(drawn, /class="photo"/);
    assert.match(drawn, /class="pad"/);
    assert.match(drawn, /1 photo/);
    assert.match(drawn, /patella and its tendon, tibial crest, fibular head/);
  }
  assert.match(String(bodyMap({ side: 'left', level: 'transtibial' }, lines, 6, pads)), /src="\/api\/clinic\/photos\/photo-1"/);
  const thigh = String(bodyMap({ side: 'right', level: 'transfemoral' }, [], 6));
  assert.match(thigh, /greater trochanter/);
  assert.doesNotMatch(thigh, /patella|tibial/);
});

test('a place counts days, not findings, and what nobody looked at was not found to be fine', () => {
  const two = [{ place: 'calf', finding: 'redness', redness_minutes: 5 }, { place: 'calf', finding: 'blister', redness_minutes: null }];
  const lines = [{ date: '2026-11-20', skin: [...two, two[1]], looked: true, said: [] },
    { date: '2026-11-21', skin: [two[1]], looked: true, said: [] }];
  const back = String(bodyMap({ side: 'left', level: 'transtibial' }, lines, 6)).split('<figure>')[2];
  assert.match(back, /calf, 2 days/);
  assert.match(back, />2<\/text>/);
  const unlooked = String(bodyMap({ side: 'left', level: 'transtibial' }, [{ date: '2026-11-20', skin: [], looked: false, said: [] }], 6));
  assert.doesNotMatch(unlooked, /nothing found/);
  assert.match(String(bodyMap({ side: 'left', level: 'transtibial' }, [{ date: '2026-11-20', skin: [], looked: true, said: [] }], 6)), /front: nothing found/);
});

test('in words the socks on paper are those of one socket, and the last morning has its day', () => {
  const line = (back, stack, mm) => ({ date: later('2026-11-26', -back), day: 20783 - back,
    morning: { stack, stack_mm: mm }, evening: null, tags: [] });
  const lines = [line(60, [FIVE, FIVE], 3), line(30, [FIVE, FIVE], 3), line(9, [ONE], 0.7), line(4, [FIVE], 1.5)];
  const sockets = [{ fitted_on: '2026-06-01', purpose: 'definitive' }, { fitted_on: '2026-11-10', purpose: 'definitive' }];
  const made = String(stackPicture(lines, '2026-11-26', sockets));
  assert.match(made, /Socks in the morning from 17 Nov to 22 Nov: 1-ply to 5-ply/);
  assert.doesNotMatch(made, /5\+5-ply to/);
  assert.match(stackPlot({ as_of: '2026-11-26', sockets, pads: [] }, lines).says, /^Last morning known, 22 Nov 2026: 5-ply/);
  assert.match(String(stackPicture(lines, '2026-11-26', sockets, [{ on: '2026-11-20' }])), /Socks on the morning of 22 Nov: 5-ply/, 'nor of one with and without a pad');
  assert.doesNotMatch(String(stackPicture(lines.slice(0, 3), '2026-11-26', sockets)), /5\+5-ply to/);
});

test('a row says first which limb it is, then two chips, or one and how many more there are', () => {
  const told = text([row(2, { reading_tags: ['heart_failure', 'dialysis', 'diabetes', 'vascular'] })]);
  assert.match(told, /Wren left transtibial, 52 heart \+3 /);
  assert.match(markup([row(2, { reading_tags: ['heart_failure', 'dialysis', 'diabetes', 'vascular'] })]), /title="dialysis, diabetes, [^"]*"/);
  assert.match(text([row(2, { reading_tags: ['heart_failure', 'dialysis'] })]), /52 heart dialysis /);
});

test('a chip says in one word what the reading depends on, and in full when asked', () => {
  const made = String(chips(['diabetes', 'heart_failure', 'dialysis', 'reduced_sensation', 'child'], { short: true }));
  assert.deepEqual([...made.matchAll(/>([^<>]+)<\/li>/g)].map(([, word]) => word), ['diabetes', 'heart', 'dialysis', 'no feeling', 'child']);
  assert.match(made, /title="reduced sensation"/);
  assert.match(String(chips(['reduced_sensation'])), /reduced sensation</);
});
