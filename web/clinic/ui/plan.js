/** The recast plan of a limb: how ready it is, what a cast would mean, the ways, the checks, the stock, the decision. */

import * as api from '../api.js';
import { open } from '../chart.js';
import { html, on, render } from '../../shared/html.js';
import { day, dayNumber, fullDay, instant, later, today } from '../when.js';
import { CHOICE, limbName, mm, STATE } from '../words.js';
import { fitted } from './plots.js';

const range = ({ value, low, high }) => `${mm(value)} (${mm(low)} to ${mm(high)})`;
const CHECKLISTS = [['direct', 'Made directly on the limb'], ['cast', 'Cast and check socket'], ['child', 'For a child']];
/** Who may record a decision; the server refuses the others. */
const DECIDERS = ['prosthetist', 'manager'];
const ITEM = { ok: 'in order', stop: 'stands against it', unknown: 'not known' };

export async function show(root, { params, context }) {
  const [story, plan] = await Promise.all([api.limb(params.limb), api.plan(params.limb)]);
  let handle = null;
  render(root, page(story, plan, DECIDERS.includes(context.staff.role)));

  on(root, 'click', '[data-do=print]', () => print());
  on(root, 'change', '[name=choice]', (choice) => {
    const way = plan.options.find(({ code }) => code === choice.value);
    root.querySelector('#planned').value = way?.on ?? way?.until ?? '';
    const because = root.querySelector('[data-because]');
    because.hidden = !way?.because;
    if (way?.because) render(because, reasonBox(way.because, true));
  });
  on(root, 'submit', '.decide', async (form, event) => {
    event.preventDefault();
    const given = new FormData(form);
    const problem = form.querySelector('.problem');
    problem.hidden = true;
    try {
      if (!given.get('choice')) throw Object.assign(new Error('Choose a way first.'), { fields: {} });
      const { id } = await api.decide(story.limb.id, {
        on: today(), choice: given.get('choice'), planned_on: given.get('planned') || null, reasons: given.getAll('reason'), note: given.get('note').trim() || null,
      });
      context.say('The decision is kept, with its reasons.', { words: 'Undo', act: () => api.takeBack(id).then(context.again) });
      context.again();
    } catch (fault) {
      problem.textContent = Object.values(fault.fields ?? {}).flat().join(' ') || fault.message;
      problem.hidden = false;
      problem.scrollIntoView({ block: 'nearest' });
    }
  });

  const dark = matchMedia('(prefers-color-scheme: dark)');
  const redraw = () => handle?.set(outlookPlot(plan));
  dark.addEventListener('change', redraw);
  return {
    title: `Recast plan, ${story.person.name}`,
    ready: async () => {
      const canvas = root.querySelector('canvas');
      if (canvas) {
        handle = await open(canvas, outlookPlot(plan)).catch((fault) => {
          render(canvas.parentElement, html`<p class="hint">${fault.message}</p>`);
          return null;
        });
      }
    },
    leave: () => {
      dark.removeEventListener('change', redraw);
      handle?.close();
    },
    keys: { b: { words: 'back to the limb', act: () => context.go(`limbs/${story.limb.id}`) } },
  };
}

/** Sock to be added in the weeks after a cast, made today or in three weeks, against the clinic's margin. */
function outlookPlot(plan) {
  const start = dayNumber(plan.as_of);
  const points = (name) => [{ day: start, value: 0, low: 0, high: 0 }, ...plan.outlook.filter((one) => one[name]).map((one) => ({ day: start + one.days, ...one[name] }))];
  const now = points('if_cast_today_mm');
  const then = points('if_cast_in_21d_mm');
  const plot = {
    y: { least: [-1, 1], most: 6, finest: 0.5, words: (value) => `${value > 0 ? '+' : value < 0 ? '−' : ''}${Math.abs(value)} mm` },
    layers: [{ kind: 'band', label: '90 % sure, cast today', points: now }, { kind: 'line', label: 'cast today', colour: 'teal', gap: 90, radius: 3, points: now },
      { kind: 'line', label: 'cast in three weeks', colour: 'ink', dashed: true, shape: 'square', gap: 90, radius: 3, points: then }],
    rim: [plan.margin_mm, -plan.margin_mm],
    dayWords: (value) => (value === start ? 'the cast' : `${value - start} days after`),
  };
  return fitted(plot, start, Math.max(start + 1, ...now.map((point) => point.day), ...then.map((point) => point.day)));
}

function page(story, plan, decides) {
  const { person, limb } = story;
  const readiness = plan.readiness;
  return html`<div class="page plan">
    <p class="crumb"><a href="#/limbs/${limb.id}">${person.name}</a></p>
    <header class="page-head"><h1>Recast plan: ${person.name}, ${limbName(limb)}</h1><button type="button" class="second" data-do="print">Print</button></header>

    <section><h2>How ready</h2>
      <p><strong class="state">${STATE[readiness.state]}</strong>${readiness.since ? html` <span class="hint">since ${day(readiness.since)}</span>` : ''}${
        readiness.settles_on ? ` Expected within the margin from ${day(readiness.settles_on.date)} (${day(readiness.settles_on.low)} to ${readiness.settles_on.high ? day(readiness.settles_on.high) : 'not foreseeable'}).` : ''}</p>
      <ul class="plain-list">${readiness.reasons.map((reason) => html`<li>${reason.text}</li>`)}</ul>
      ${plan.missing.length ? html`<h3>What is missing</h3><ul class="plain-list">${plan.missing.map((one) => html`<li>${one.text}</li>`)}</ul>` : ''}</section>

    <section><h2>If a cast is made</h2>${plan.outlook.length ? outlook(plan) : html`<p class="hint">Too little is logged to look ahead.</p>`}</section>

    <section><h2>Checks</h2><div class="checklists">${CHECKLISTS.filter(([name]) => plan.checklists[name]?.length).map(([name, words]) => html`<div><h3>${words}</h3>
      <ul>${plan.checklists[name].map((item) => html`<li class="item ${item.state}">${itemMark(item.state)}<span>${item.text}<span class="hint">${ITEM[item.state]}${item.because ? `: ${item.because}` : ''}</span></span></li>`)}</ul></div>`)}</div></section>

    <section class="deciding"><h2>The decision is yours</h2>
      <p class="print-only by-hand">Decided ……………………………………… by ………………………… on ………………</p>
      <form class="decide"><fieldset class="options"${decides ? '' : html` disabled`}><legend class="hidden">Ways</legend>${plan.options.map(way)}
        <label class="way"><input type="radio" name="choice" value="other"><span><strong>${CHOICE.other}</strong></span></label></fieldset>
        ${decides ? html`<div class="field"><label for="planned">Planned for</label><input id="planned" type="date" name="planned" min="${today()}"></div>
        <fieldset><legend>Reasons</legend><div data-because hidden></div>${readiness.reasons.map((reason) => reasonBox(reason.text, false))}</fieldset>
        <label class="field"><span>In your words</span><textarea name="note" rows="2" maxlength="2000"></textarea></label>
        <p class="problem" role="alert" hidden></p>
        <p class="buttons"><button class="main">Keep the decision</button></p>` : html`<p class="hint">A prosthetist or the manager records the decision.</p>`}</form>
      ${plan.decisions.length ? html`<h3>Decided before</h3><ol class="notes">${plan.decisions.map((one) => html`<li class="${one.taken_back_at ? 'gone' : ''}"><strong>${CHOICE[one.choice] ?? one.choice}</strong>${one.planned_on ? `, for ${fullDay(one.planned_on)}` : ''}
        <span class="hint">${one.by}, ${instant(one.at)}, when the limb was ${STATE[one.state_then]}${one.taken_back_at ? `. Taken back ${instant(one.taken_back_at)}` : ''}</span><p>${[...(one.reasons ?? []), one.note].filter(Boolean).join(' ')}</p></li>`)}</ol>` : ''}</section>

    <section><h2>Needed in stock</h2><div class="checklists"><div><h3>For this limb</h3>${stock(plan.stock.this)}</div>
      <div><h3>For all planned recasts</h3>${stock(plan.stock.all_planned)}</div></div></section>
  </div>`;
}

function outlook(plan) {
  const at30 = plan.outlook.find(({ days }) => days === 30) ?? plan.outlook[0];
  const says = `Cast today: expect ${range(at30.if_cast_today_mm)} of sock in the ${at30.days} days after it.${
    at30.if_cast_in_21d_mm ? ` Cast in three weeks: ${range(at30.if_cast_in_21d_mm)} in the ${at30.days} days after that.` : ''}`;
  return html`<p class="says">${says}</p>
    <div class="canvas tall"><canvas role="img" aria-label="${says}"></canvas></div>
    <ul class="key" aria-label="Key"><li><i class="k-tide"></i>cast today</li><li><i class="k-band"></i>90 % sure</li><li><i class="k-line dashed"></i>cast in three weeks</li>${plan.margin_mm ? html`<li><i class="k-rim"></i>the clinic’s margin, ±${plan.margin_mm} mm</li>` : ''}</ul>
    <details><summary>As a table</summary><div class="table" tabindex="0" role="region" aria-label="Outlook, table"><table><thead><tr><th scope="col">Days after the cast</th><th scope="col">Cast today</th><th scope="col">Cast on ${day(later(plan.as_of, 21))}</th></tr></thead>
      <tbody>${plan.outlook.map((one) => html`<tr><th scope="row">${one.days}</th><td>${one.if_cast_today_mm ? range(one.if_cast_today_mm) : ''}</td><td>${one.if_cast_in_21d_mm ? range(one.if_cast_in_21d_mm) : ''}</td></tr>`)}</tbody></table></div></details>
    <p class="hint">Made from this limb’s own course. The range holds the true value 9 times in 10.</p>`;
}

function way(option) {
  return html`<label class="way"><input type="radio" name="choice" value="${option.code}"><span><strong>${option.words ?? CHOICE[option.code]}</strong>
    ${option.expected_mm ? html`<span>Expect ${range(option.expected_mm)} of sock.</span>` : ''}${option.until ? html`<span>${option.code === 'wait' ? 'Until' : 'Definitive about'} ${day(option.until)}.</span>` : ''}
    <span class="hint">${option.because}</span></span></label>`;
}

const reasonBox = (text, ticked) => html`<label class="check"><input type="checkbox" name="reason" value="${text}"${ticked ? html` checked` : ''}> ${text}</label>`;

function itemMark(state) {
  const drawn = { ok: html`<path d="M3.500 10.500 8 15 16.500 5.500"/>`, stop: html`<rect x="2.500" y="2.500" width="15" height="15"/><path d="M6 10h8"/>`, unknown: html`<circle cx="10" cy="10" r="7.500" stroke-dasharray="3 2.500"/>` }[state];
  return html`<svg class="check-mark ${state}" viewBox="0 0 20 20" width="20" height="20" aria-hidden="true">${drawn}</svg>`;
}

function stock(list) {
  return list.length ? html`<ul class="plain-list">${list.map((one) => html`<li>${one.count ? html`<b>${one.count} ×</b> ` : ''}${one.what}${one.size ? `, ${one.size}` : ''}${one.because ? html` <span class="hint">${one.because}</span>` : ''}</li>`)}</ul>`
    : html`<p class="hint">Nothing.</p>`;
}
