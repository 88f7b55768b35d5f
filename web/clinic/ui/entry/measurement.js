/** Circumferences at levels: live volume with the tape's own error, compared with the last time only at the same
 *  levels. */

import * as api from '../../api.js';
import { html, on, render } from '../../../shared/html.js';
import { atHeight, beyondTape, comparable, limitPct, oneHand, slips, volume } from '../../tape.js';
import { choose, chosen, parse, shown, UNITS } from '../../units.js';
import { fullDay, today } from '../../when.js';
import { limbName } from '../../words.js';
import { correcting, keepCorrection } from '../corrections.js';
import { isChild } from '../growth.js';

/** Levels by ISO 8548-2:2020, 5.1.2, named; the distances are the limb's own. */
const NAMED = {
  transtibial: ['medial joint line', 'mid-patellar tendon', 'inflection', 'end of the limb'],
  transfemoral: ['proximal', 'inflection', 'end of the limb'],
};
const EVERY_MM = 40;

export async function show(root, { params, query, context }) {
  const story = await api.limb(params.limb);
  const { person, limb, measurements } = story;
  const before = correcting(story, query);
  const last = measurements.filter((one) => one !== before && (!before || one.on <= before.on)).at(-1) ?? null;
  const confirmed = new Set();
  let unit = chosen('length');
  // A row holds what is typed and, beside it, the exact mm: another unit shown must not round what was measured.
  const row = (name, mm) => ({ name, height: shown(mm, unit), girth: '', mm: { height: mm, girth: null } });
  const corrected = ({ name, from_end_mm: height, circumference_mm: girth }) =>
    ({ name: name ?? '', height: shown(height, unit), girth: shown(girth, unit), mm: { height, girth } });
  let rows = before ? ordered(before.levels).map(corrected) : last ? ordered(last.levels)
    .map((level) => row(level.name ?? '', level.from_end_mm))
    : (NAMED[limb.level] ?? ['', '']).map((name) => row(name, name === 'end of the limb' ? 0 : null));

  render(root, html`<form class="entry measure" novalidate>
    <p class="crumb"><a href="#/limbs/${limb.id}">${person.name}</a></p>
    <h1>${before ? 'Correct the measurement of' : 'Measure'} ${person.name}, ${limbName(limb)}</h1>
    <p class="intro">Distances are from the end of the limb upwards. Use the same levels each time: every 4 cm, or the landmarks by name.</p>
    <p class="problem" role="alert" hidden></p>
    <div class="in-line"><div class="field"><label for="on">Measured on</label><input id="on" type="date" value="${before?.on ?? today()}" max="${today()}"></div>
      <div class="field"><label for="minutes">Minutes since the socket came off <span class="optional">optional</span></label><input id="minutes" inputmode="numeric" size="5" value="${before?.minutes_since_doffing ?? ''}" autocomplete="off"></div>
      <div class="field"><label for="by">Measured by</label><input id="by" value="${before ? before.measured_by ?? '' : context.staff.name}" autocomplete="off"></div>
      <div class="field"><label for="weight">Body weight <span class="optional">optional</span></label><span class="with-unit">
          <input id="weight" inputmode="decimal" value="${shown(before?.weight_kg, chosen('weight'))}" autocomplete="off">
          <select id="weight-unit" aria-label="Unit of body weight">${UNITS.weight.map((one) => html`<option${one === chosen('weight') ? html` selected` : ''}>${one}</option>`)}</select><output for="weight"></output></span>
        <span class="hint">Without the prosthesis, and in the morning if it can be.${person.tags?.includes('dialysis') ? ' On dialysis: as long after a session as last time.' : ''}</span></div>
      ${isChild(person, today()) ? html`<div class="field"><label for="height">Height in cm <span class="optional">optional</span></label><input id="height" inputmode="decimal" value="${before?.height_cm ?? ''}" autocomplete="off"></div>` : ''}
      <div class="field"><label for="length-unit">Lengths in</label><select id="length-unit">${UNITS.length.map((one) => html`<option${one === unit ? html` selected` : ''}>${one}</option>`)}</select></div></div>
    <div class="levels"></div>
    <p class="buttons"><button type="button" class="second" data-do="add-level">Add a level</button>
      <button type="button" class="second" data-do="every">Levels every ${EVERY_MM / 10} cm</button></p>
    ${before ? html`<div class="field"><label for="reason">Why it is corrected <span class="optional">optional</span></label><input id="reason" maxlength="400" autocomplete="off"></div>` : ''}
    <section class="live" aria-live="polite"></section>
    <p class="buttons"><button class="main">Keep the measurement</button> <a class="second" href="#/limbs/${limb.id}">Cancel</a></p></form>`);
  const form = root.querySelector('form');
  const problem = root.querySelector('.problem');

  function drawLevels() {
    render(root.querySelector('.levels'), html`<table class="tape"><caption class="hidden">Levels</caption><thead><tr><th scope="col">Level</th><th scope="col">From the end</th><th scope="col">Circumference</th>
      <th scope="col">${last ? `On ${fullDay(last.on)}` : 'In mm'}</th><td></td></tr></thead>
      <tbody>${rows.map((row, i) => html`<tr data-row="${i}">
        <td><input name="name" id="name-${i}" value="${row.name}" aria-label="Name of level ${i + 1}" autocomplete="off"></td>
        <td><input name="height" id="height-${i}" value="${row.height}" inputmode="decimal" aria-label="Distance of level ${i + 1} from the end, ${unit}" autocomplete="off" size="6"></td>
        <td><input name="girth" id="girth-${i}" value="${row.girth}" inputmode="decimal" aria-label="Circumference at level ${i + 1}, ${unit}" autocomplete="off" size="6"></td>
        <td class="then"></td><td><button type="button" class="plain" data-do="drop-level" aria-label="Remove level ${i + 1}">remove</button></td></tr>`)}</tbody></table>`);
    live();
  }

  /** The levels that can be read; `bad` holds the rows that can't. */
  function readLevels() {
    const bad = [];
    const levels = rows.flatMap((row, i) => {
      if (!row.girth.trim()) return [];
      if (row.mm.height === null || row.mm.girth === null) {
        bad.push(i);
        return [];
      }
      return [{ name: row.name.trim() || null, from_end_mm: tenth(row.mm.height),
        circumference_mm: tenth(row.mm.girth) }];
    });
    return { levels, bad };
  }

  function live() {
    const { levels, bad } = readLevels();
    rows.forEach((row, i) => {
      const { height, girth } = row.mm;
      const then = height !== null && last ? atHeight(last.levels, height) : null;
      const moved = then && girth !== null ? tenth(girth - then.circumference_mm) : null;
      const line = root.querySelector(`[data-row="${i}"]`);
      line.querySelector('.then').textContent = bad.includes(i) ? 'can’t be read' : last
        ? then ? `${then.circumference_mm} mm${moved === null ? '' : `, now ${moved > 0 ? '+' : moved < 0 ? '−' : '±'}${Math.abs(moved)} mm`}` : 'not measured here'
        : girth === null ? '' : `${tenth(girth)} mm`;
    });
    render(root.querySelector('.live'), liveWords(levels, last, root.querySelector('#by').value));
  }

  on(root, 'input', '.tape input', (box) => {
    const own = rows[box.closest('tr').dataset.row];
    own[box.name] = box.value;
    if (box.name in own.mm) own.mm[box.name] = parse(box.value, unit)?.value ?? null;
    live();
  });
  on(root, 'click', '[data-do=add-level]', () => {
    rows.push(row('', null));
    drawLevels();
    root.querySelector(`#height-${rows.length - 1}`).focus();
  });
  on(root, 'click', '[data-do=drop-level]', (button) => {
    rows.splice(Number(button.closest('tr').dataset.row), 1);
    drawLevels();
  });
  on(root, 'click', '[data-do=every]', () => {
    rows = [3, 2, 1, 0].map((i) => row('', i * EVERY_MM));
    drawLevels();
    root.querySelector('#girth-0').focus();
  });
  on(root, 'change', '#length-unit', (box) => {
    unit = box.value;
    for (const own of rows) for (const name of ['height', 'girth']) if (own.mm[name] !== null) own[name] = shown(own.mm[name], unit);
    choose('length', unit);
    drawLevels();
  });
  const weigh = () => {
    const read = parse(root.querySelector('#weight').value, root.querySelector('#weight-unit').value);
    root.querySelector('output[for=weight]').textContent = read && read.unit !== 'kg' ? `= ${shown(read.value, 'kg')} kg` : '';
    return read;
  };
  on(root, 'input', '#by', live);
  on(root, 'input', '#weight', weigh);
  on(root, 'change', '#weight-unit', (box) => {
    choose('weight', box.value);
    weigh();
  });

  form.addEventListener('submit', async (event) => {
    event.preventDefault();
    const { levels, bad } = readLevels();
    const weight = weigh();
    const minutes = root.querySelector('#minutes').value.trim();
    const faults = [];
    if (bad.length) faults.push(`Level ${bad.map((i) => i + 1).join(', ')} can’t be read: it needs a distance and a circumference.`);
    else if (!levels.length) faults.push('At least one circumference is needed.');
    if (root.querySelector('#weight').value.trim() && !weight) faults.push('The body weight can’t be read.');
    const height = root.querySelector('#height')?.value.trim().replace(',', '.') ?? '';
    if (height && !(Number(height) >= 30 && Number(height) <= 230)) faults.push('The height must be in cm, from 30 to 230.');
    if (minutes && !/^\d{1,4}$/.test(minutes)) faults.push('Minutes must be a whole number.');
    if (!faults.length) {
      const odd = slips(levels, last?.levels);
      if (last?.weight_kg && weight && Math.abs(weight.value / last.weight_kg - 1) > 0.15) odd.push(`${shown(weight.value, 'kg')} kg was ${last.weight_kg} kg last time.`);
      const fresh = odd.filter((words) => !confirmed.has(words));
      for (const words of fresh) confirmed.add(words);
      if (fresh.length) faults.push(...fresh, 'Check the tape and the unit; press the button again if it is right.');
    }
    if (faults.length) return tell(faults.join(' '));
    // A weight that was not touched goes back as it was kept, whatever unit it was shown in.
    const kept = before && root.querySelector('#weight').value === shown(before.weight_kg, chosen('weight'))
      ? before.weight_kg : undefined;
    try {
      const values = {
        ...(height ? { height_cm: Number(height) } : {}), on: root.querySelector('#on').value, levels,
          minutes_since_doffing: minutes ? Number(minutes) : null,
        weight_kg: kept !== undefined ? kept : weight ? tenth(weight.value) : null,
          measured_by: root.querySelector('#by').value.trim() || null,
      };
      if (before) return await keepCorrection('measurement', before, limb,
        { ...values, reason: root.querySelector('#reason').value.trim() || null }, context);
      await api.addToLimb(limb.id, 'measurements', values);
    } catch (fault) {
      return tell(Object.entries(fault.fields ?? {}).map(([name, words]) => `${name}: ${words.join(' ')}`).join(' ') || fault.message);
    }
    context.say('The measurement is kept.');
    context.go(`limbs/${limb.id}`);
  });

  function tell(words) {
    problem.textContent = words;
    problem.hidden = false;
    problem.scrollIntoView({ block: 'nearest' });
  }

  drawLevels();
  return { title: 'Measure' };
}

const tenth = (value) => Math.round(value * 10) / 10;
const ordered = (levels) => [...levels].sort((a, b) => b.from_end_mm - a.from_end_mm);

function liveWords(levels, last, by) {
  const now = volume(levels);
  if (!now) return html`<p class="hint">With two levels or more, the volume between them appears here.</p>`;
  const own = html`<p><b>About ${Math.round(now.ml)} ml</b> between the lowest and the highest level; the tape alone can be off by ${Math.round(now.error_ml)} ml (5 mm at every level).</p>`;
  if (!last) return own;
  if (!comparable(levels, last.levels)) {
    return html`${own}<p>Not compared with ${fullDay(last.on)}: the levels lie at other distances, and the same limb then gives another volume.</p>`;
  }
  const before = volume(last.levels);
  const moved = now.ml - before.ml;
  const same = oneHand(by, last.measured_by);
  const limit = limitPct(same).toFixed(1);
  const who = same ? 'One person measuring the same limb twice' : 'Two people measuring the same limb';
  return html`${own}<p>${fullDay(last.on)}: about ${Math.round(before.ml)} ml. Difference ${moved < 0 ? '−' : '+'}${Math.abs(Math.round(moved))} ml (${moved < 0 ? '−' : '+'}${Math.abs((moved / before.ml) * 100).toFixed(1)} %).
    ${beyondTape(before.ml, now.ml, same) ? `${who} can differ by ${limit} %: this is more, so the limb has changed or the levels were not the same.` : `${who} can differ by ${limit} %, so this alone is no sign of a change.`}</p>`;
}
