/** Today: what was logged, where it stands, and the key to log. */

import { html } from '../../shared/html.js';
import { say } from '../words.js';
import { others, todays } from '../drafts.js';
import { alarmBar, isAlarm, shapeOf } from './advice.js';
import { cardsFor } from './cards.js';
import { draftCard } from './draft-card.js';
import { frame, primary, secondary } from './frame.js';
import { aboutLimb, dayWords, fixKey, justDay, limbWords, reasonLine, reasons, standingWords, state, trendCode } from './phrases.js';
import { stackWords } from './socks.js';
import { answers, cardId, standingCard } from './standing.js';
import { standing } from '../rows.js';
import { limbPicture } from './tide.js';
import { weekCard, weekDrops } from './week.js';
import { daysBetween } from '../when.js';
import { messageCards } from './messages.js';
import { pocketLink } from './pocket.js';
import { nextVisit } from './visits.js';

const PHOTO_DAYS = 14; // judgement: what it showed is of use no longer than this

const todaysOf = (view, rows) => rows.filter((row) => row.checkin.date === view.today);

/** How many entries of today a limb has; what the clinic could not take is one too, and must be mended. */
const isDone = (view, limb) => todaysOf(view, view.rowsOf[limb.id] ?? []).length > 0;

/** Of limbs that each have their rows: done, to be mended, or still open; nothing where the others' entries are withheld. */
function doneKey(view, person, each) {
  const days = each.map((rows) => todaysOf(view, rows));
  if (days.every((rows) => rows.some((row) => row.state !== 'refused'))) return 'home.done';
  if (days.every((rows) => rows.length)) return 'state.refused';
  return person.withheld ? null : 'home.open';
}

function doneWords(view, limb) {
  const key = doneKey(view, view.person, [view.rowsOf[limb.id] ?? []]);
  return key && html`<span class="done ${key === 'home.done' ? 'yes' : ''}">${say(key)}</span>`;
}

function limbCard(view, limb) {
  const several = view.person.limbs.length > 1;
  const last = (view.rowsOf[limb.id] ?? [])[0];
  const today = todays(view.drafts, limb.id, view.today);
  return html`<section class="card">
    ${several ? html`<h2>${limbWords(limb)}</h2>` : ''}
    ${today ? draftCard(view, today, { on: false }) : ''}
    ${others(view.drafts, limb.id, view.today).map((draft) => draftCard(view, draft))}
    ${last && !several ? html`<div class="done-row">${isDone(view, limb) ? doneWords(view, limb) : ''}${again(view, limb, 0)}</div>` : ''}
    ${last ? weekDrops(view, limb) : ''}
    ${limbPicture(view, limb)}
    ${several ? '' : lastSaid(view, last)}
    ${trendOf(view, limb)}
    ${weekCard(view, limb)}
    ${cardsFor(view, limb)}
  </section>`;
}

/** What was said last; where it stands only while it is not with the clinic. */
const lastSaid = (view, last) => last && html`<p>${say('home.last', { day: justDay(last.checkin.date, view.today) })} <strong>${stackWords(last.checkin.stack)}</strong>. ${say('home.comfort', { n: last.checkin.comfort })}</p>
  ${last.state === 'kept' ? '' : html`<p class="state ${last.state}">${state(last)}</p>`}`;

const wordsFor = (view, limb) => (todays(view.drafts, limb.id, view.today) ? 'home.go_on' : isDone(view, limb) ? 'home.log_again' : 'home.log');

const keyWords = (view, limb) => (view.person.limbs.length > 1 ? say(`${wordsFor(view, limb)}.limb`, { limb: limbWords(limb) }) : say(wordsFor(view, limb)));

/** Whose key is the large one: what was begun, else what nobody wrote yet; nobody's when all is done. */
const nextLimb = (view) => view.person.limbs.find((limb) => todays(view.drafts, limb.id, view.today)) ?? view.person.limbs.find((limb) => !isDone(view, limb));

/** The limb with a key at the foot. While an alarm stands there is always one: what gets worse is written at once. */
const footLimb = (view) => nextLimb(view) ?? (alarm(view) ? view.person.limbs[0] : null);

const again = (view, limb, i) => (limb === footLimb(view) ? ''
  : html`<button class="link" id="log-${i}" data-do="day.open" data-arg="${limb.id}" aria-label="${keyWords(view, limb)}">${say(wordsFor(view, limb))}</button>`);

/** Two limbs side by side, each with the last thing said of it. */
function sideBySide(view) {
  return html`<div class="beside-limbs">${view.person.limbs.map((limb, i) => html`<section class="card"><h2>${limbWords(limb)}</h2>
    <p>${doneWords(view, limb)}</p>${lastSaid(view, (view.rowsOf[limb.id] ?? [])[0])}${again(view, limb, i)}</section>`)}</div>`;
}

/** What the clinic could not take stands first, with what is wrong and the key to mend it. */
const toFix = (view, row) => html`<section class="notice bad"><p><strong>${say('home.fix', { day: dayWords(row.checkin.date, view.today) })}</strong></p>
  ${row.danger ? html`<p>${say('refused.heard')}</p>` : ''}${reasons(row, view).map(reasonLine)}${fixKey(row, view, { kind: 'secondary' })}</section>`;

/** A photo that the clinic could not take: of which day, each day once. */
function photosRefused(view) {
  const gone = new Set(view.refusedPhotos.map((photo) => photo.checkin_id));
  const rows = view.person.limbs.flatMap((limb) => view.rowsOf[limb.id] ?? []).filter((row) => row.line.some((id) => gone.has(id)));
  const days = [...new Set(rows.map((row) => row.checkin.date))].filter((day) => daysBetween(day, view.today) <= PHOTO_DAYS);
  return days.map((day) => html`<p class="notice bad">${say('photo.refused', { day: dayWords(day, view.today) })}</p>`);
}

const trendOf = (view, limb) => {
  const code = trendCode(view, limb);
  return code === 'unknown' ? '' : html`<p>${aboutLimb(view, `story.trend.${code}`, `story.trend.of.${code}`)}</p>`;
};

export function homeScreen(view) {
  const { person } = view;
  const last = footLimb(view);
  const key = last && (nextLimb(view) ? primary : secondary)(`log-${person.limbs.indexOf(last)}`, 'day.open', keyWords(view, last), { arg: last.id });
  return frame(view, {
    title: dayWords(view.today, view.today),
    body: html`
      ${person.limbs.map((limb) => html`${standingCard(view, limb)}${answers(view, limb)}`)}
      ${view.people.length > 1 ? people(view) : ''}
      ${messageCards(view)}
      ${person.limbs.flatMap((limb) => (view.rowsOf[limb.id] ?? []).filter((row) => row.state === 'refused')).map((row) => toFix(view, row))}
      ${photosRefused(view)}
      ${person.limbs.length > 1 ? sideBySide(view) : ''}
      ${person.limbs.map((limb) => limbCard(view, limb))}
      ${nextVisit(view)}${pocketLink(view)}
      <p class="standing" role="status">${standingWords(view)}</p>`,
    foot: key ? html`${alarm(view)}${key}` : '',
  });
}

/** The most urgent of all limbs of the one who is shown. */
function alarm(view) {
  const first = view.person.limbs.find((limb) => isAlarm(view.standing[limb.id]?.[0]));
  const worst = view.person.limbs.find((limb) => view.standing[limb.id]?.[0]?.level === 'emergency') ?? first;
  return worst ? alarmBar(view, view.standing[worst.id], cardId(worst)) : '';
}

/** An alarm of somebody who is not shown now stands on their key. */
const mark = (view, one) => {
  const [found] = one.limbs.map((limb) => view.standing[limb.id]?.[0]).filter(isAlarm);
  return found ? html`<span class="marked">${shapeOf(found.level)}<span class="only-heard">${say('home.alarm')}</span></span>` : '';
};

/** Of somebody who is not shown too: whether each limb of theirs was written today. */
const doneOf = (view, one) => doneKey(view, one, one.limbs.map((limb) => standing(view.rows[limb.id] ?? [])));

function people(view) {
  return html`<div class="row people" role="group" aria-label="${say('home.who')}">${view.people.map((one, i) =>
    html`<button class="key" id="who-${i}" data-do="who" data-arg="${one.id}" aria-pressed="${one.id === view.person.id ? 'true' : 'false'}"><span>${mark(view, one)}${one.name}</span><span class="small">${doneOf(view, one) && say(doneOf(view, one))}</span></button>`)}</div>`;
}
