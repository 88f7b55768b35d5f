/** The recast plan of a limb: how ready it is, what a cast would mean, the ways, the checks, the stock, the
 *  decision. */

import * as api from '../api.js';
import { open } from '../chart.js';
import { html, on, render } from '../../shared/html.js';
import { day, dayNumber, fullDay, instant, later, today } from '../when.js';
import { CHOICE, inPly, limbName, many, mm, STATE } from '../words.js';
import { FELT } from '../limits.js';
import { bookVisit, nextVisit } from './visit.js';
import { chips } from './marks.js';
import { byDay } from './log.js';
import { fitted } from './plots.js';
import { wornNow } from './worn-now.js';

const range = ({ value, low, high }) => `${mm(value)} (${mm(low)} to ${mm(high)})`;
const CHECKLISTS = [['reason', 'For this reason'], ['direct', 'Formed on the limb'], ['cast', 'Cast and check socket'], ['child', 'For a child']];
/** Who may record a decision; the server refuses the others. */
const DECIDERS = ['prosthetist', 'manager'];
/** The outlook is drawn so far; what lies further ahead stands in its table, or the near weeks could not be told
 *  apart. */
const DRAWN_DAYS = 150;
const ITEM = { ok: 'in order', stop: 'stands against it', unknown: 'not known' };

export async function show(root, { params, query, context }) {
  const [story, plan] = await Promise.all([api.limb(params.limb), api.plan(params.limb, { reason: query.reason })]);
  let handle = null;
  render(root, page(story, plan, DECIDERS.includes(context.staff.role)));

  on(root, 'click', '[data-do=print]', () => print());
  on(root, 'click', '[data-do=book]', async () => {
    if (await bookVisit({ person: story.person, about: { limb_id: story.limb.id }, what: 'Definitive socket', context })) context.again();
  });
  on(root, 'change', '[name=why]', (choice) => context.go(`limbs/${story.limb.id}/plan?reason=${choice.value}`, { instead: true }));
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
        on: today(), choice: given.get('choice'), planned_on: given.get('planned') || null,
          reasons: given.getAll('reason'), note: given.get('note').trim() || null,
        ...(given.has('visit_booked') ? visitOf(given) : {}),
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

/** The visit that is booked with a decision: on the day planned, or the one that is entered already. */
function visitOf(given) {
  const visit = given.get('planned') ? { visit: { on: given.get('planned'), time: given.get('visit_time') || null, what: 'Recast' } } : {};
  return { visit_booked: true, ...visit };
}

/** Sock to be added in the weeks after a cast, made today or in three weeks, against the clinic's margin. More sock
 *  hangs
 *  lower, as everywhere. */
function outlookPlot(plan) {
  const start = dayNumber(plan.as_of);
  const points = (name) => [{ day: start, value: 0, low: 0, high: 0 },
    ...plan.outlook.filter((one) => one[name] && one.days <= DRAWN_DAYS)
    .map((one) => ({ day: start + one.days, ...one[name] }))];
  const now = points('if_cast_today_mm');
  const then = points('if_cast_in_21d_mm');
  const plot = {
    y: { least: [-1, 1], most: 6, finest: 0.5, down: true, words: (value) => `${value > 0 ? '+' : value < 0 ? '−' : ''}${Math.abs(value)} mm` },
    layers: [{ kind: 'band', label: '90 % sure, cast today', points: now }, { kind: 'line', label: 'cast today', colour: 'teal', gap: 90, radius: 3, points: now },
      { kind: 'line', label: 'cast in three weeks', colour: 'ink', dashed: true, shape: 'square', gap: 90, radius: 3, points: then }],
    rim: [plan.margin_mm, -plan.margin_mm],
    dayWords: (value) => (value === start ? 'the cast' : `${many(value - start, 'day')} after`),
  };
  return fitted(plot, start, Math.max(start + 1, ...now.map((point) => point.day), ...then.map((point) => point.day)));
}

/** The newest day a reason was made from, as a way to it. */
function lastDay(story, { evidence }) {
  const found = story.days.find((one) => one.checkins.some(({ id }) => evidence.includes(id)));
  return found ? html`, last on <a href="#/limbs/${story.limb.id}?day=${found.date}">${day(found.date)}</a>` : '';
}

function page(story, plan, decides) {
  const { person, limb } = story;
  const { coming } = nextVisit(story.visits, today());
  const readiness = plan.readiness;
  return html`<div class="page plan">
    <p class="crumb"><a href="#/limbs/${limb.id}">${person.name}</a></p>
    <header class="page-head"><h1>Recast plan: ${person.name}, ${limbName(limb)}</h1><button type="button" class="second" data-do="print">Print</button></header>${chips(plan.reading_tags)}

    <section><h2>How ready</h2>
      ${wornNow(story, byDay(story.days))}
      <p><strong class="state">${STATE[readiness.state]}</strong>${readiness.since ? html` <span class="hint">since ${day(readiness.since)}</span>` : ''}${
        readiness.settles_on ? ` Expected within the margin from ${day(readiness.settles_on.date)} (${day(readiness.settles_on.low)} to ${readiness.settles_on.high ? day(readiness.settles_on.high) : 'not foreseeable'}).` : ''}</p>
      <ul class="plain-list">${readiness.reasons.map((reason) => html`<li>${reason.text}</li>`)}</ul>
      ${plan.missing.length ? html`<h3>What is missing</h3><ul class="plain-list">${plan.missing.map((one) => html`<li>${one.text}</li>`)}</ul>` : ''}</section>

    <section><h2>Why another socket</h2>
      ${plan.remake ? html`<p>${coming ? `The next visit is on ${fullDay(coming.on)}.` : html`No visit is booked. <button type="button" class="plain" data-do="book">Book one…</button>`}</p>` : ''}
      <fieldset class="why-list"><legend class="hidden">Reason</legend>${plan.reasons_to_recast.map((one) => html`<label class="check"><input type="radio" name="why" value="${one.code}"${
        one.code === plan.reason.code ? html` checked` : ''}> <span>${one.text}${one.found && one.code !== 'none' ? html` <span class="hint">${one.evidence.length ? html`seen in the log${lastDay(story, one)}` : 'known to the clinic'}</span>` : ''}</span></label>`)}</fieldset>
      <p class="hint">The ways below are put in order for the reason chosen. Judgement: the choice is yours.</p></section>

    <section><h2>If a cast is made</h2>${plan.outlook.length ? outlook(plan) : html`<p class="hint">Too little is logged to look ahead.</p>`}${plan.recast ? goodFit(plan) : ''}</section>

    <section><h2>Checks</h2><div class="checklists">${CHECKLISTS.filter(([name]) => plan.checklists[name]?.length).map(([name, words]) => html`<div><h3>${words}</h3>
      <ul>${plan.checklists[name].map((item) => html`<li class="item ${item.state}">${itemMark(item.state)}<span>${item.text}<span class="hint">${ITEM[item.state]}${item.because ? `: ${item.because}` : ''}</span></span></li>`)}</ul></div>`)}</div></section>

    <section class="deciding"><h2>The decision is yours</h2>
      <p class="print-only by-hand">Decided ……………………………………… by ………………………… on ………………</p>
      <form class="decide"><fieldset class="options"${decides ? '' : html` disabled`}><legend class="hidden">Ways</legend>${plan.options.map(way)}
        <label class="way"><input type="radio" name="choice" value="other"><span><strong>${CHOICE.other}</strong></span></label></fieldset>
        ${decides ? html`<div class="field"><label for="planned">Planned for</label><input id="planned" type="date" name="planned" min="${today()}"></div>
        <label class="check"><input type="checkbox" name="visit_booked"> Book the visit for that day, at <input type="time" name="visit_time" aria-label="Time of the visit"></label>
        <fieldset><legend>Reasons</legend>${plan.reason.code === 'none' ? '' : reasonBox(plan.reason.text, true)}<div data-because hidden></div>${readiness.reasons.filter(({ text }) => !plan.reason.text.includes(text)).map((reason) => reasonBox(reason.text, false))}</fieldset>
        <label class="field"><span>In your words</span><textarea name="note" rows="2" maxlength="2000"></textarea></label>
        <p class="problem" role="alert" hidden></p>
        <p class="buttons"><button class="main">Keep the decision</button></p>` : html`<p class="hint">A prosthetist or the manager records the decision.</p>`}</form>
      ${plan.decisions.length ? html`<h3>Decided before</h3><ol class="notes">${plan.decisions.map((one) => html`<li class="${one.taken_back_at ? 'gone' : ''}"><strong>${CHOICE[one.choice] ?? one.choice}</strong>${one.planned_on ? `, for ${fullDay(one.planned_on)}` : ''}
        <span class="hint">${one.by}, ${instant(one.at)}, when the limb was ${STATE[one.state_then]}${one.taken_back_at ? `. Taken back ${instant(one.taken_back_at)}` : ''}</span><p>${[...(one.reasons ?? []), one.note].filter(Boolean).join(' ')}</p></li>`)}</ol>` : ''}</section>

    ${plan.makings.length ? html`<section><h2>Sockets made here</h2><ul class="plain-list">${plan.makings.map((words) => html`<li>${words}</li>`)}</ul></section>` : ''}
    <section><h2>Needed in stock</h2><div class="checklists"><div><h3>For this limb</h3>${stock(plan.stock.this)}</div>
      <div><h3>For all planned recasts</h3>${stock(plan.stock.all_planned)}<p><a href="#/stock">What is on hand</a></p></div></div></section>
  </div>`;
}

function outlook(plan) {
  const at30 = plan.outlook.find(({ days }) => days === 30) ?? plan.outlook[0];
  const says = `Cast today: in the ${at30.days} days after it expect ${inPly(at30.if_cast_today_mm.value)}, ${range(at30.if_cast_today_mm)}.${
    at30.if_cast_in_21d_mm ? ` Cast in three weeks: ${inPly(at30.if_cast_in_21d_mm.value)}, ${range(at30.if_cast_in_21d_mm)}.` : ''} Lower is more sock: a smaller limb.`;
  return html`<p class="says">${says}</p>
    <div class="canvas tall"><canvas role="img" aria-label="${says}"></canvas></div>
    <ul class="key" aria-label="Key"><li><i class="k-tide"></i>cast today</li><li><i class="k-band"></i>90 % sure</li><li><i class="k-line dashed"></i>cast in three weeks</li>${plan.margin_mm ? html`<li><i class="k-rim"></i>the clinic’s margin, ±${plan.margin_mm} mm</li>` : ''}</ul>
    <details><summary>As a table</summary><div class="table" tabindex="0" role="region" aria-label="Outlook, table"><table><thead><tr><th scope="col">Days after the cast</th><th scope="col">Cast today</th><th scope="col">Cast on ${day(later(plan.as_of, 21))}</th></tr></thead>
      <tbody>${plan.outlook.map((one) => html`<tr><th scope="row">${one.days}</th><td>${one.if_cast_today_mm ? range(one.if_cast_today_mm) : ''}</td><td>${one.if_cast_in_21d_mm ? range(one.if_cast_in_21d_mm) : ''}</td></tr>`)}</tbody></table></div></details>
    <p class="hint">Made from this limb’s own course. The range is made to hold the true value 9 times in 10; tried on simulated limbs only.</p>
    <p class="hint" data-margin>The margin is the clinic’s own figure; 0.7 mm is one thin sock under load (Sanders, Cagle, Harrison, Karchin 2012). ${FELT}</p>`;
}

/** Days of the coming year on which a socket would fit, by the day of its cast. */
function goodFit(plan) {
  const { now, in_21_days, now_and_in_21_days, best, horizon_days } = plan.recast;
  const best_words = best.date === plan.as_of ? 'On the best day: today' : html`On the best day: about ${day(best.date)} <span class="hint">(${day(best.low)} to ${day(best.high)})</span>`;
  const rows = [['Cast now', now], [`Cast in three weeks, ${day(later(plan.as_of, 21))}`, in_21_days], ['Diagnostic now, definitive in three weeks', now_and_in_21_days], [best_words, best]];
  return html`<h3>Days of good fit in the coming year</h3>
    <div class="table" tabindex="0" role="region" aria-label="Days of good fit, table"><table><thead><tr><th scope="col">Way</th><th scope="col">Days of ${horizon_days}</th><th scope="col">90 % sure</th></tr></thead>
      <tbody>${rows.map(([words, { good_days: days }]) => html`<tr><th scope="row">${words}</th><td>${Math.round(days.value)}</td><td>${Math.round(days.low)} to ${Math.round(days.high)}</td></tr>`)}</tbody></table></div>
    <p class="hint">${plan.fit_note}</p>`;
}

function way(option) {
  return html`<label class="way"><input type="radio" name="choice" value="${option.code}"><span><strong>${option.words ?? CHOICE[option.code]}</strong>
    ${option.expected_mm ? html`<span>Expect ${inPly(option.expected_mm.value)}, ${range(option.expected_mm)} of sock.</span>` : ''}${option.until ? html`<span>${option.makes ? 'Definitive about' : 'Until'} ${day(option.until)}.</span>` : ''}
    <span class="hint">${option.because}</span>${option.against.map((one) => html`<span class="stands">${itemMark('stop')}<span>${ITEM.stop}: ${one.because}</span></span>`)}</span></label>`;
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
