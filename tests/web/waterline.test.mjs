import assert from 'node:assert/strict';
import { test } from 'node:test';

import { tidePicture } from '../../web/phone/ui/tide.js';
import { BACK, dateAt, waterline } from '../../web/phone/waterline.js';
import { plusDays } from '../../web/phone/when.js';

const TODAY = '2026-11-26';
const ago = (days) => plusDays(TODAY, -days);
const row = (days, { ply = 3, comfort = 7, skin = [], time = '08:00' } = {}) => ({
  id: `${days}-${time}`, state: 'kept', checkin: { date: ago(days), time, stack: ply === null ? [] : [{ ply, make: 'single' }], comfort, skin },
});
const line = (rows, more = {}) => waterline(rows, { today: TODAY, ...more });
const picture = (rows, more = {}) => String(tidePicture(rows, { today: TODAY, ...more }));
const count = (text, piece) => text.split(piece).length - 1;

test('the line is the days that were written, in their order, and no other', () => {
  const { days } = line([row(-1), row(0, { ply: 5 }), row(1), row(27), row(28)]);
  assert.deepEqual(days.map((day) => [day.date, day.at]), [[ago(27), 0], [ago(1), BACK - 1], [TODAY, BACK]]);
});

test('more sock lies lower, and a day without a sock highest', () => {
  const [none, three, five] = line([row(0, { ply: 5 }), row(1), row(2, { ply: null })]).days.map((day) => day.mm);
  assert.ok(none === 0 && three > none && five > three);
});

test('of two entries of one day the last is drawn, and the skin of both', () => {
  const skin = [{ place: 'calf', finding: 'blister', redness_minutes: null }];
  const [day] = line([row(0, { time: '20:00', comfort: 4 }), row(0, { time: '08:00', comfort: 9, skin })]).days;
  assert.deepEqual([day.comfort, day.found], [4, skin]);
});

test('days nobody wrote are a gap that is counted, and drawn dashed, never as water', () => {
  const rows = [row(0), row(1), row(5)];
  assert.deepEqual(line(rows).days.map((day) => day.gap), [null, 3, 0]);
  assert.equal(count(picture(rows), 'class="gap"'), 1);
  assert.equal(count(picture(rows), 'class="column"'), 3);
});

test('a new socket is a rim of its own, and no line runs over from the one before', () => {
  const sockets = [{ fitted_on: ago(90) }, { fitted_on: ago(2) }];
  const { rims, days } = line([row(0), row(3)], { sockets });
  assert.deepEqual(rims.map((rim) => [rim.from, rim.fresh]), [[0, false], [BACK - 2, true]]);
  assert.deepEqual(days.map((day) => [day.rim, day.gap]), [[0, null], [1, null]]);
  assert.equal(count(picture([row(0), row(3)], { sockets }), 'class="gap"'), 0);
});

test('a first socket begins where it was fitted; one that is yet to come has no rim', () => {
  assert.deepEqual(line([], { sockets: [{ fitted_on: ago(5) }] }).rims.map((rim) => rim.from), [BACK - 5]);
  assert.deepEqual(line([row(9)], { sockets: [{ fitted_on: ago(5) }] }).rims.map((rim) => rim.from), [0, BACK - 5]);
  assert.deepEqual(line([], { sockets: [{ fitted_on: ago(-3) }] }).rims.map((rim) => rim.from), [0]);
});

test('visits of the last weeks and of the next days are flags; one that was called off or missed is none', () => {
  const visits = [{ on: ago(7), outcome: 'done' }, { on: ago(-3) }, { on: ago(-9) }, { on: ago(1), cancelled: true },
    { on: ago(2), outcome: 'missed' }];
  assert.deepEqual(line([], { visits }).flags.map((at) => dateAt(at, TODAY)), [ago(7), ago(-3)]);
  assert.equal(count(picture([row(0)], { visits }), 'class="flag"'), 2);
});

test('comfort is how deep the water is tinted, and what was found floats on it', () => {
  const tint = (comfort) => Number(/class="column"[^>]*fill-opacity="([\d.]+)"/.exec(picture([row(0, { comfort })]))[1]);
  assert.ok(tint(0) > 0 && tint(5) > tint(0) && tint(10) > tint(5) && tint(10) <= 1);
  assert.equal(count(picture([row(0, { skin: [{ place: 'calf', finding: 'rash' }] }), row(1)]), 'class="buoy"'), 1);
});

test('nobody gets a wave that is not theirs: no entry, no water, and the first line is promised', () => {
  const empty = picture([]);
  assert.equal(count(empty, 'class="column"'), 0);
  assert.match(empty, /Your first line starts today/);
  assert.equal(count(empty, 'class="rim"'), 1);
  assert.doesNotMatch(picture([row(40)]), /first line/);
});

test('the picture says aloud what it is, and names today and the weeks', () => {
  const shown = picture([row(0), row(8)]);
  assert.match(shown, /role="img" aria-label="[^"]*2 days of four weeks/);
  assert.match(shown, />Today</);
  assert.equal(count(shown, 'class="week"'), 4);
});

test('no figure of the picture is broken, whatever was entered', () => {
  const sockets = [{ fitted_on: ago(1) }, { fitted_on: TODAY }];
  const rows = [row(0, { ply: 99 }), row(1, { comfort: null }), row(27, { ply: null })];
  assert.doesNotMatch(picture(rows, { sockets }), /NaN|undefined|null|Infinity/);
});
