/** A new socket breaks what is counted against the socket, and never the limb: it did not change with the fitting. */

import assert from 'node:assert/strict';
import { test } from 'node:test';

import { withGaps } from '../../web/clinic/chart.js';
import { stackPicture, tidePicture } from '../../web/clinic/ui/paper.js';
import { stackPlot, volumePlot } from '../../web/clinic/ui/plots.js';
import { dayNumber, later } from '../../web/clinic/when.js';

const FIRST = '2026-08-01';
const SECOND = '2026-09-10';
const date = (n) => later(FIRST, n);
const DAYS = Array.from({ length: 60 }, (_, n) => n);
const NEW = DAYS.findIndex((n) => date(n) === SECOND);

/** The limb goes down evenly; against the socket it begins anew at nought. */
const band = DAYS.map((n) => ({ date: date(n), limb_pct: -n / 10, limb_low: -n / 10 - 1, limb_high: -n / 10 + 1,
  pct: -(n < NEW ? n : n - NEW) / 10, low: -6, high: 1 }));
const socket = (fitted_on, more) => ({ id: fitted_on, fitted_on, retired_on: null, purpose: 'definitive',
  stack_at_fitting: [], suspensions: [], ...more });
const worn = [socket(FIRST, { retired_on: SECOND }), socket(SECOND)];
const story = (sockets = worn) => ({
  band, sockets, as_of: date(59), measurements: [], interventions: [], pads: [],
  assessment: { volume: { change_pct: { value: -2, low: -3, high: -1 },
    limb_change_pct: { value: -6, low: -7, high: -5 }, reference_on: FIRST }, lacks: [] },
});
const said = (n) => ({ date: date(n), day: dayNumber(date(n)), moment: 'putting_on', stack: [{ ply: 3, make: 'single' }], stack_mm: 1.2 });
const lines = DAYS.map((n) =>
  ({ date: date(n), day: dayNumber(date(n)), morning: said(n), evening: null, tags: [], skin: [], falls: 0 }));
const at = dayNumber(SECOND);

test('the limb is one line over all sockets; each socket has its own, which ends with it', () => {
  const { layers } = volumePlot(story()).plot;
  const limb = layers.filter(({ kind }) => kind === 'tide');
  assert.equal(limb.length, 1);
  assert.equal(limb[0].breaks, undefined);
  assert.deepEqual(limb[0].points.map(({ value }) => value), band.map((one) => one.limb_pct));
  assert.ok(withGaps(limb[0].points, 60, limb[0].breaks).every(({ y }) => y !== null), 'nothing breaks the limb');
  const own = layers.filter(({ label }) => label === 'against the socket');
  assert.deepEqual(own.map(({ points }) => [points[0].day, points.at(-1).day]),
    [[dayNumber(FIRST), at - 1], [at, dayNumber(date(59))]]);
  assert.deepEqual(own.map(({ points }) => points.at(-1).value), [band[NEW - 1].pct, band.at(-1).pct]);
  assert.equal(own[1].points[0].value, -0, 'the second begins at its own fitting');
});

test('in one socket there is one line, and no word of another', () => {
  const plot = volumePlot(story([socket(FIRST)]));
  assert.deepEqual(plot.plot.layers.map(({ label }) => label), ['90 % sure', 'most likely']);
  assert.ok(!plot.head.includes('In the socket worn'));
});

test('the socks hang from the socket worn: their line stops where another begins, and no day is lost', () => {
  const [morning] = stackPlot(story(), lines).plot.layers.filter(({ label }) => label === 'morning');
  const drawn = withGaps(morning.points, morning.gap, morning.breaks);
  assert.deepEqual(drawn.filter(({ y }) => y === null).map(({ x }) => x), [at - 0.5]);
  assert.equal(drawn.filter(({ y }) => y !== null).length, DAYS.length);
});

test('on paper both lines against the socket are in two pieces', () => {
  const pieces = (drawn) => [String(drawn).match(/class="tide" d="/g).length, String(drawn).match(/class="epoch"/g).length];
  assert.deepEqual(pieces(tidePicture(band, worn)), [2, 1]);
  // of its 91 days the first socket's own fitting is one
  assert.deepEqual(pieces(stackPicture(lines, date(59), worn)), [2, 2]);
  assert.equal(String(tidePicture(band, [worn[0]])).match(/class="tide" d="/g).length, 1);
});
