/** The markup of a limb's story. */

import { limbFiles } from '../api.js';
import { html } from '../../shared/html.js';
import { age, day, daysBetween, fullDay, instant, later, weekday } from '../when.js';
import { atFitting, CHOICE, kindWord, lacking, LEVEL_URGENCY, limbName, MADE, many, MATERIAL, pct, PURPOSE, stack,
  STATE, STATE_MEANS, SUSPENSION } from '../words.js';
import { bodyMap } from './bodymap.js';
import { nextVisit } from './visit.js';
import { clinicWork } from './corrections.js';
import { skinWords } from './evidence.js';
import { growth, isChild } from './growth.js';
import { chips } from './marks.js';
import { byUrgency, nameOf, signalCard } from './signals.js';
import { messages } from './message.js';
import { parts } from './parts.js';
import { marksOf } from './plots.js';
import { pocketSection } from './pocket.js';
import { callKeys, calls } from './reach.js';
import { wornNow } from './worn-now.js';

const SPANS = [[42, 'six weeks'], [91, 'three months'], [0, 'all of it']];
const SKIN_WEEKS = 6;
const DECISIONS = 5;
const WORDS = 4; // of the wearer's own, the newest
const LATE = 12; // entries that came late, the newest

export function page(story, view) {
  const { person, limb } = story;
  const worn = story.sockets.filter((socket) => !socket.retired_on || socket.retired_on > story.as_of).at(-1);
  return html`<div class="story">
    ${view.replay ? html`<p class="replay" role="note">You see what was known at the end of <strong>${fullDay(story.as_of)}</strong>. Later entries and corrections are left out.
      <span class="buttons">${[[-7, 'a week before'], [-1, 'the day before'], [1, 'the day after'], [7, 'a week after']].map(([days, words]) => html`<a href="#/limbs/${limb.id}?as_of=${later(story.as_of, days)}">${words}</a>`)}
      <a class="second" href="#/limbs/${limb.id}">Back to today</a></span></p>` : ''}
    <div class="story-body"><div class="told">
    <header class="story-head"><p class="crumb"><a href="#/today">Today</a> · <a href="#/people/${person.id}">Person and phones</a></p>
        <h1>${person.name}</h1>
        <p class="sub">${limbName(limb)}${person.born_on ? `, ${many(age(person.born_on, story.as_of), 'year')}` : ''}${limb.amputated_on ? `, amputated ${day(limb.amputated_on)}` : ''}${
          worn ? html`, ${PURPOSE[worn.purpose]} socket since ${day(worn.fitted_on)}, day ${daysBetween(worn.fitted_on, story.as_of)}` : ', no socket entered'}</p>${chips(story.reading_tags)}
        ${wornNow(story, view.lines)}
        ${view.replay ? '' : html`<div class="reach-box">${callKeys(person)}<p class="buttons"><button type="button" class="second" data-do="call">Record a call…</button><button type="button" class="second" data-do="write">Write…</button></p></div>${ways(limb)}`}
    </header>
      <div class="plots">
        <div class="plot-tools"><fieldset class="spans"><legend class="hidden">How far back</legend>${SPANS.map(([days, words]) => html`<label>
          <input type="radio" name="span" value="${days}"${days === view.span ? html` checked` : ''}><span>${words}</span></label>`)}</fieldset></div>
        ${section(view.plots[0])}
        ${view.lines.length ? dayTool(view) : ''}
        <section class="evidence" tabindex="-1" hidden aria-label="Check-ins of the day"></section>
        ${ownWords(view.lines)}
        ${figures(story)}
        ${view.plots.slice(1).map(section)}
        ${bodyMap(limb, view.lines.filter((line) => line.date > later(story.as_of, -7 * SKIN_WEEKS)), SKIN_WEEKS, padsWorn(story, worn))}
        ${isChild(person, story.as_of) ? growth(story, view.lines, view.family) : ''}
        ${view.lines.length ? '' : view.replay ? html`<p class="notice empty">No check-in had reached the clinic by the end of this day.</p>` : html`<p class="notice empty">Nothing is logged yet. Once a phone has joined, each day’s log appears here.
          <a class="main" href="#/people/${person.id}/phone">Join a phone</a></p>`}
      </div></div>
      <aside class="beside">${beside(story, view)}</aside>
    </div></div>`;
}

/** What the wearer or a caregiver wrote, the newest first, each opening its day. */
function ownWords(lines) {
  const said = lines.filter((line) => line.notes.length).slice(-WORDS).reverse();
  return said.length ? html`<section class="own-words" aria-labelledby="own-words"><h2 id="own-words">In their words</h2><ul>${said.map((line) => html`<li><q>${line.notes.join(' ')}</q> <button type="button" class="plain" data-open-day="${line.date}">${day(line.date)}</button></li>`)}</ul></section>` : '';
}

const padsWorn = ({ pads }, worn) => pads.filter((pad) => worn && pad.socket_id === worn.id);

/** Where one goes from here: to prepare, and to enter. */
function ways(limb) {
  const to = (path, words) => html`<a href="#/limbs/${limb.id}/${path}">${words}</a>`;
  return html`<nav class="ways" aria-label="Prepare"><span>Prepare</span>${to('plan', 'the recast plan')}${to('visit', 'the visit page')}${to('payer', 'the payer’s page')}${to('letter', 'a letter')}${to('pocket', 'the pocket plan')}</nav>
    <nav class="ways" aria-label="Enter"><span>Enter</span>${to('measure', 'a measurement')}${to('deed', 'what was done')}${to('outcomes', 'an outcome measure')}${
    to('pad', 'a pad')}${to('made', 'a socket being made')}${to('socket', 'a new socket')}${to('edit', 'limb facts')}</nav>`;
}

/** Why there is no figure, where there is none. */
const UNKNOWN = ['too-few-days', 'no-recent-days', 'no-checkins'];

function stateLine({ assessment: { readiness, growth } }) {
  const settles = readiness.settles_on;
  const first = readiness.reasons.find(({ code }) => (growth ? code === 'growing' : UNKNOWN.includes(code)));
  // What holds says what lifts it; what is not known, why; the rest is said by the state.
  const says = { held: readiness.reasons[0], due: readiness.reasons[0], gathering: first,
    changing: first }[readiness.state]?.text ?? STATE_MEANS[readiness.state];
  return html`<div class="state-box"><p><strong class="state">${STATE[readiness.state]}</strong>${readiness.since ? html` <span class="hint">since ${day(readiness.since)}</span>` : ''}</p>
    <p>${says}${settles ? ` Expected within the margin from ${day(settles.date)} (90 % sure: ${day(settles.low)} to ${settles.high ? day(settles.high) : 'not foreseeable'}).` : ''}</p>
    ${first && first.text !== says ? html`<p>${first.text}</p>` : ''}
    ${readiness.reasons.length ? html`<details><summary>Why</summary><ul>${readiness.reasons.map((reason) => html`<li>${reason.text}</li>`)}</ul></details>` : ''}</div>`;
}

const FIGURES = [
  ['change_pct', 'Since this socket was fitted', 'The slow level of the limb’s volume, without the swing of the day, against the day the socket was fitted. Made from sock stacks, fit answers and tape measurements.'],
  ['limb_change_pct', 'The limb since its first day known', 'The same slow level on the limb’s own scale, whatever sockets were worn. A new socket does not change the limb; how it sits beside the last one is not known and widens the range.'],
  ['change_28d_pct', 'Over the last 28 days', 'What the limb itself lost or gained in 28 days, from its course so far, also where a new socket was fitted meanwhile.'],
  ['coming_28d_pct', 'Expected in the coming 28 days', 'What the limb’s own course so far says of the next 28 days. “Steady” needs this whole range inside the clinic’s margin.'],
  ['daily_swing_pct', 'Within a day', 'From putting on to the end of the day, where both were logged.'],
];

const SESSIONS = ['dialysis_swing_pct', 'Larger before dialysis than after', 'From the mornings of the days with a session, against the mornings after them, of the last twelve weeks: what the socks and fit answers show.'];

/** A figure with its range. The swing has no sign of its own: its heading says which way it goes. */
function figure(name, { value, low, high }) {
  if (name !== 'daily_swing_pct') return html`<b>${pct(value)}</b> <span>${pct(low)} to ${pct(high)}</span>`;
  const [least, most] = value < 0 ? [-high, -low] : [low, high];
  return html`<b>${Math.abs(value).toFixed(1)} %</b> <span>${least.toFixed(1).replace('-', '−')} to ${most.toFixed(1)} %</span>`;
}

const heading = (name, words, value) => (name === 'daily_swing_pct' && value ? `${value.value < 0 ? 'Larger' : 'Smaller'} by evening` : words);

function figures({ assessment, sockets }) {
  const figuresOf = FIGURES.filter(([name]) => name !== 'limb_change_pct' || sockets.length > 1);
  const shown = assessment.reading_tags.includes('dialysis') ? [...figuresOf, SESSIONS] : figuresOf;
  return html`${assessment.lacks.length && assessment.volume.change_pct ? html`<p class="lacks">The percent rest on what is not known:${lacking(assessment.lacks)}.</p>` : ''}<dl class="figures">${room(assessment.growth)}${shown.map(([name, words, source]) => {
    const value = assessment.volume[name];
    return html`<div><dt>${heading(name, words, value)}</dt><dd>${value ? figure(name, value) : html`<span>not known yet</span>`}
      <details class="source"><summary>from where?</summary><p>${source} ${many(assessment.checkins_used, 'check-in')} ${assessment.checkins_used === 1 ? 'was' : 'were'} used. The range is made to hold the true value 9 times in 10; tried on simulated limbs only.</p>
      <p><button type="button" class="plain" data-open-table="${name === 'daily_swing_pct' ? 'stack' : 'volume'}">Show the log behind it</button></p></details></dd></div>`;
  })}</dl>`;
}

function room(growth) {
  if (!growth) return '';
  const { room_mm: left, runs_out: out } = growth;
  const when = !out ? 'not within a year' : `${out.date ? `about ${fullDay(out.date)}` : 'not foreseen within a year'}; ${fullDay(out.low)} at the earliest${
    out.date ? `, ${out.high ? fullDay(out.high) : 'no end known'} at the latest` : ''}`;
  return html`<div class="room"><dt>Sock left to take off</dt><dd><b>${left.value.toFixed(1)} mm</b> <span>${left.low.toFixed(1)} to ${left.high.toFixed(1)} mm</span>
    <span class="block">used up: ${when}</span></dd></div>`;
}

function section({ name, title, says, key, plot, tall, low, rows }) {
  return html`<section class="plot" aria-labelledby="plot-${name}"><h2 id="plot-${name}">${title}</h2><p class="says">${says}</p>
    ${plot ? html`<div class="canvas ${tall ? 'tall' : low ? 'low' : ''}"><canvas data-plot="${name}" role="img" aria-label="${title}. ${says}"></canvas></div>
      <ul class="key" aria-label="Key">${key.map(([look, words]) => html`<li><i class="k-${look}"></i>${words}</li>`)}</ul>` : ''}
    ${rows.length ? html`<details data-table="${name}"><summary>${title} as a table</summary><div class="table" tabindex="0" role="region" aria-label="${title}, table"></div></details>` : ''}</section>`;
}

export function table({ title, head, rows }) {
  return html`<table><caption class="hidden">${title}</caption><thead><tr>${head.map((words) => html`<th scope="col">${words}</th>`)}</tr></thead>
    <tbody>${rows.map(([name, ...cells]) => html`<tr><th scope="row">${name}</th>${cells.map((cell) => html`<td>${cell}</td>`)}</tr>`)}</tbody></table>`;
}

function dayTool({ first, last, cursor }) {
  return html`<section class="day-tool" aria-label="One day">
    <p class="slide"><label for="day">Day</label><button type="button" class="second" data-step="-1" aria-label="A day back">−</button>
      <input type="range" id="day" min="${first}" max="${last}" step="1" value="${cursor}">
      <button type="button" class="second" data-step="1" aria-label="A day on">+</button></p>
    <div class="readout"></div></section>`;
}

export function readout(story, lines, date, replay) {
  const line = lines.find((one) => one.date === date);
  const level = story.band.find((point) => point.date === date);
  const marks = marksOf(story).filter((mark) => mark.date === date);
  const parts = [
    level && `volume ${pct(level.limb_pct)} (${pct(level.limb_low)} to ${pct(level.limb_high)})`,
    level && story.sockets.length > 1 && `in this socket ${pct(level.pct)}`,
    line?.morning && `morning ${stack(line.morning.stack)}, ${line.morning.stack_mm.toFixed(1)} mm`,
    line?.evening && `evening ${stack(line.evening.stack)}, ${line.evening.stack_mm.toFixed(1)} mm`,
    line && line.comfort !== null && `comfort ${line.comfort}`,
    line?.hours && `${line.hours} h worn`,
    ...(line?.skin ?? []).map(skinWords),
    line?.falls && `falls: ${line.falls}`,
    ...marks.map((mark) => mark.words),
  ].filter(Boolean);
  return html`<p><strong>${weekday(date)}</strong> ${parts.length ? parts.join(' · ') : 'nothing logged'}</p>
    <p class="buttons">${line ? html`<button type="button" class="second" data-do="open-day">Open the check-ins</button>` : ''}
    ${date < story.as_of ? html`<a class="second" href="#/limbs/${story.limb.id}?as_of=${date}">What did we know on this day?</a>` : replay ? '' : ''}</p>`;
}

function beside(story, { context, replay, draft }) {
  const { limb, signals } = story;
  const live = byUrgency(signals.filter((signal) => signal.status !== 'closed')
    .sort((a, b) => LEVEL_URGENCY[b.level] - LEVEL_URGENCY[a.level]));
  const closed = signals.filter((signal) => signal.status === 'closed');
  const days = new Map(story.days.flatMap((one) => one.checkins.map((checkin) => [checkin.id, one.date])));
  const evidence = (signal) => {
    const dates = [...new Set(signal.evidence.map((id) => days.get(id)).filter(Boolean))].sort();
    return dates.length ? html`${dates.slice(-4).map((date) => html`<button type="button" class="plain" data-open-day="${date}">${day(date)}</button> `)}` : '';
  };
  const { coming, words: visitWords } = nextVisit(story.visits, story.as_of);
  return html`<section><h2>${replay ? 'Asked of you then' : 'Asked of you'}</h2>${live.length ? html`<ul class="signals">${live.map((signal) => signalCard(signal, context.everyone, { evidence: evidence(signal), acts: !replay }))}</ul>` : html`<p class="hint">${replay ? 'Nothing was open.' : 'Nothing is open.'}</p>`}
      ${closed.length ? html`<details><summary>Closed before: ${closed.length}</summary><ul class="signals">${closed.map((signal) => signalCard(signal, context.everyone, { acts: !replay }))}</ul></details>` : ''}</section>
    <section><h2>${replay ? 'How it stood' : 'How it stands'}</h2>${stateLine(story)}</section>
    ${replay ? cameLater(story, live) : ''}
    <section><h2>Calls</h2>${calls(story.contacts)}</section>
    <section><h2>Written to the phone</h2>${messages(story.messages, { acts: !replay })}</section>
    ${pocketSection(story, { acts: !replay })}
    <section><h2>Next visit</h2><p>${visitWords ?? html`<span class="hint">None planned.</span>`}</p>
      ${replay ? '' : html`<p class="buttons">${coming ? html`<button type="button" class="second" data-do="move-visit">Move it…</button>` : ''}<button type="button" class="second" data-do="book">Book a visit…</button></p>`}</section>
    <section><h2>Sockets</h2>${story.sockets.length ? html`<ol class="sockets">${[...story.sockets].reverse().map((socket) => socketLine(socket, limb, replay, context.everyone))}</ol>` : html`<p class="hint">None entered.</p>`}
      <a class="plain" href="#/limbs/${limb.id}/socket">New socket</a></section>
    <section><h2>Parts with a date</h2>${parts(story.parts, { acts: !replay })}</section>
    ${clinicWork(story, { replay, context })}
    ${decided(story)}
    ${replay ? '' : html`<section><h2>Take out</h2><ul class="plain-list">${limbFiles(limb.id).map(([words, address]) => html`<li><a href="${address}" download>${words}</a></li>`)}</ul></section>`}
    <section><h2>Notes</h2>${story.notes.length ? html`<ul class="notes">${story.notes.map((note) => html`<li><p>${note.text}</p><p class="hint">${nameOf(context.everyone, note.by_staff)}, ${instant(note.created_at)}</p></li>`)}</ul>` : ''}
      ${replay ? '' : html`<form class="note-form"><label>Write a note<textarea name="text" rows="2" maxlength="4000">${draft}</textarea></label><button class="second">Keep note</button></form>`}</section>`;
}

/** In a replay: what lay in the past of that day and had not reached the clinic, or had and was not said. */
function cameLater({ not_known_then: later, assessment }, live) {
  const unsaid = assessment.signals.filter((one) =>
    !live.some((signal) => signal.kind === one.kind && (signal.rule ?? null) === (one.rule ?? null)));
  if (!later.checkins.length && !later.signals.length && !unsaid.length) return '';
  return html`<section class="came-later"><h2>Not known here then</h2>
    ${later.checkins.length ? html`<ul class="plain-list">${[...later.checkins].sort((a, b) => a.date.localeCompare(b.date)).slice(-LATE).map((one) => html`<li><strong>Not known here then:</strong> ${
      one.withdrawn ? 'an entry taken back' : one.skin?.length ? one.skin.map(skinWords).join(', ') : 'a check-in'} of ${day(one.date)} <span class="hint">arrived ${instant(one.received_at)}</span></li>`)}</ul>${
      later.checkins.length > LATE ? html`<p class="hint">And ${later.checkins.length - LATE} more from before.</p>` : ''}` : ''}
    ${later.signals.length ? html`<ul class="plain-list">${later.signals.map((one) => html`<li><strong>${kindWord(one.kind)}</strong>, since ${day(one.since)}, was first said ${instant(one.opened_at)}: ${one.because}</li>`)}</ul>` : ''}
    ${unsaid.length ? html`<p class="hint">Read today from what had arrived by then, and not said on that day:</p><ul class="plain-list">${unsaid.map((one) => html`<li><strong>${kindWord(one.kind)}</strong>: ${one.because}</li>`)}</ul>` : ''}</section>`;
}

/** What was decided on a recast, newest first: when, what, by whom, why. */
function decided({ decisions, limb }) {
  return html`<section class="decided"><h2>Decided on a recast</h2>${decisions.length ? html`<ol class="notes">${decisions.slice(0, DECISIONS).map((one) => html`<li class="${one.taken_back_at ? 'gone' : ''}">
      <strong>${CHOICE[one.choice] ?? one.choice}</strong>${one.planned_on ? `, for ${day(one.planned_on)}` : ''}
      <span class="hint block">${day(one.on)}, ${one.by}${one.taken_back_at ? `. Taken back ${instant(one.taken_back_at)}` : ''}</span><p>${whyOf(one)}</p></li>`)}</ol>` : html`<p class="hint">Nothing decided yet.</p>`}
    <a class="plain" href="#/limbs/${limb.id}/plan">${decisions.length > DECISIONS ? `All ${decisions.length}, in the recast plan` : 'The recast plan'}</a></section>`;
}

const whyOf = (one) => [...(one.reasons ?? []), one.note].filter(Boolean).join(' ');

function socketLine(socket, limb, replay, everyone) {
  const facts = [MADE[socket.made], MATERIAL[socket.material], SUSPENSION[socket.suspension], socket.liner_mm ? `liner ${socket.liner_mm} mm` : '',
    socket.weight_limit_kg ? `limit ${socket.weight_limit_kg} kg` : ''].filter(Boolean).join(', ');
  return html`<li><strong>${PURPOSE[socket.purpose]}</strong>, ${day(socket.fitted_on)}${socket.retired_on ? ` to ${day(socket.retired_on)}` : ' until now'}
    <span class="hint">${facts}${facts ? '. ' : ''}At fitting: ${atFitting(socket)}.${socket.note ? ` ${socket.note}` : ''}</span>
    ${(socket.despite ?? []).map((one) => html`<span class="hint block">Stood against it: ${one.against.map(({ text }) => text).join(' ')} Gone on by ${nameOf(everyone, one.by_staff)}, ${instant(one.at)}: “${one.reason}”</span>`)}
    ${replay ? '' : html`<a class="plain" href="#/limbs/${limb.id}/socket/${socket.id}" aria-label="Change the ${PURPOSE[socket.purpose]} socket of ${day(socket.fitted_on)}">change</a>`}</li>`;
}

export const week = (date) => later(date, 7);
