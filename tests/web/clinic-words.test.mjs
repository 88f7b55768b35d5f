import assert from 'node:assert/strict';
import { test } from 'node:test';

import { placeCode, PLACES, placeWords, PLACE_WORDS } from '../../web/shared/places.js';
import { skinWords } from '../../web/clinic/ui/evidence.js';
import { volumePlot, stackPlot, workWords } from '../../web/clinic/ui/plots.js';
import { atFitting, DAY_TAG, FINDING, INTERVENTION, kindWord, lacking, learn, READING, said } from '../../web/clinic/words.js';

test('no code reaches the screen as a word', () => {
  const shown = [
    ...Object.values(PLACES).flat().map(placeWords), placeWords('left_of_scar'), said(READING, 'new_fact'),
    skinWords({ place: 'outer_bump', finding: 'open_skin', redness_minutes: null }),
    workWords('intervention', { kind: 'suspension_switched', note: 'pin lock to suction' }), workWords('intervention', { kind: 'something_new' }),
    workWords('pad', { thickness_mm: 1, place: 'kneecap_tendon' }),
    ...[DAY_TAG, FINDING, INTERVENTION, READING, PLACE_WORDS].flatMap(Object.values),
  ];
  assert.deepEqual(shown.filter((words) => /\w_\w/.test(words)), []);
});

test('staff read anatomy, and pads entered in the words of before are found at their place', () => {
  assert.equal(placeWords('outer_bump'), 'fibular head');
  assert.equal(placeWords('bony bump on the outer side'), 'fibular head');
  assert.equal(placeCode('front of the shin'), 'shin_front');
  assert.equal(placeWords('Over the scar'), 'Over the scar');
});

test('no baseline is not "no sock"', () => {
  assert.equal(atFitting({ stack_at_fitting: null }), 'not entered');
  assert.equal(atFitting({ stack_at_fitting: [] }), 'no sock');
  assert.equal(atFitting({ stack_at_fitting: [], baseline_unsure: true }), 'no sock, or not entered');
  assert.equal(lacking([]), '');
  assert.equal(lacking([{ text: '300 mm assumed' }, { text: 'no stack' }]), ' (300 mm assumed; no stack)');
});

const line = (date, day, tags) =>
  ({ date, day, tags, morning: { stack: [], stack_mm: 0 }, evening: null, comfort: 8, skin: [] });

test('dialysis sessions are bands, named in the key and in the table', () => {
  const point = (date) => ({ date, pct: 0, low: -1, high: 1, limb_pct: 0, limb_low: -1, limb_high: 1 });
  const story = {
    band: [point('2026-06-01'), point('2026-06-02')], sockets: [], measurements: [], interventions: [], pads: [],
    assessment: { volume: { change_pct: { value: 0, low: -1, high: 1 }, limb_change_pct: { value: 0, low: -1, high: 1 },
      reference_on: '2026-06-01' }, lacks: [] },
  };
  const lines = [line('2026-06-01', 20605, ['dialysis']), line('2026-06-02', 20606, [])];
  for (const plot of [volumePlot(story, lines), stackPlot(story, lines)]) {
    assert.deepEqual(plot.plot.bands, [{ from: 20604.6, to: 20605.4 }]);
    assert.ok(plot.key.some(([look, words]) => look === 'session' && words === 'dialysis day'));
    assert.equal(plot.head.at(-1), 'Dialysis');
    assert.deepEqual(plot.rows.map((row) => row.at(-1)), ['', 'session']);
  }
  const none = volumePlot(story, [line('2026-06-02', 20606, [])]);
  assert.ok(!none.head.includes('Dialysis') && !none.key.some(([look]) => look === 'session'));
});

test('the server says in the browser’s language what it can, and the rest stays English', () => {
  learn({ tired: 'Müdigkeit' }, { FINDING: { rash: 'Ausschlag' }, TAG: { smoking: 'Rauchen' }, PLACE: { calf: 'Wade' }, LATER: { x: 'y' } });
  assert.deepEqual([kindWord('tired'), said(FINDING, 'rash'), said(READING, 'smoking'), placeWords('calf')], ['Müdigkeit', 'Ausschlag', 'Rauchen', 'Wade']);
  assert.deepEqual([kindWord('knee-lock'), said(FINDING, 'blister'), placeWords('heel')], ['knee lock', 'blister', 'heel']);
  learn({}, { FINDING: { rash: 'rash' }, TAG: { smoking: 'smoking' }, PLACE: { calf: 'calf' } });
});
