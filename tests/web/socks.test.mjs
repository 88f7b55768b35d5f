import assert from 'node:assert/strict';
import { test } from 'node:test';

import { cuff, layers } from '../../web/phone/ui/cuff.js';
import { gauge } from '../../web/phone/ui/gauge.js';
import { totalLine } from '../../web/phone/ui/socks.js';

const sock = (ply, make = 'single') => ({ ply, make });
const count = (text, piece) => String(text).split(piece).length - 1;

test('a sock has a rib for each ply, and a sheath has none', () => {
  for (const ply of [1, 2, 3, 5, 6]) assert.equal(count(cuff(sock(ply)), 'v15'), ply);
  assert.equal(count(cuff(sock(0)), 'v15'), 0);
  assert.match(String(cuff(sock(0))), /sheath/);
});

test('a sock with a colour of its own is drawn in it', () => {
  assert.match(String(cuff(sock(3), [{ ply: 3, make: 'single', colour: 4 }])), /colour-4/);
});

test('socks are drawn from the skin out, a layer each, however many', () => {
  for (const n of [1, 3, 12]) {
    const drawn = String(layers(Array.from({ length: n }, () => sock(6))));
    assert.equal(count(drawn, 'class="layer '), n);
    const radii = [...drawn.matchAll(/4V44a([\d.]+)/g)].map((found) => Number(found[1]));
    assert.deepEqual([...radii].sort((a, b) => a - b), radii);
    assert.ok(radii.at(-1) <= 40, `${n}: ${radii.at(-1)}`);
  }
});

test('several socks have a total, one has none, and neither have sheaths alone', () => {
  assert.match(String(totalLine([sock(5), sock(5), sock(3)])), /3 socks, 13‑ply/);
  assert.equal(String(totalLine([sock(5)])), '');
  assert.equal(String(totalLine([sock(0), sock(0)])), '');
});

const view = (...rows) => ({ today: '2026-11-26',
  rowsOf: { a: rows.map(([date, comfort, state = 'kept']) => ({ state, checkin: { date, comfort } })) } });
const draft = { limb_id: 'a', date: '2026-11-26', comfort: null };

test('the gauge is eleven radio keys, none chosen before one is tapped, one of them in the tab order', () => {
  const none = String(gauge(view(), draft));
  assert.deepEqual([count(none, 'role="radio"'), count(none, 'aria-checked="true"'), count(none, 'tabindex="0"')], [11, 0, 1]);
  assert.match(String(gauge(view(), { ...draft, comfort: 0 })), /id="comfort-0"[^>]*aria-checked="true" tabindex="0"/);
});

test('the last earlier day is marked on the gauge, and neither today nor what is long ago', () => {
  assert.match(String(gauge(view(['2026-11-26', 3], ['2026-11-25', 6]), draft)), /id="comfort-6"(?:(?!<\/button>)[\s\S])*Yesterday/);
  assert.doesNotMatch(String(gauge(view(['2026-11-18', 6]), draft)), /before/);
  assert.doesNotMatch(String(gauge(view(['2026-11-26', 6]), draft)), /before/);
  assert.doesNotMatch(String(gauge(view(['2026-11-25', 6, 'refused']), draft)), /before/);
});
