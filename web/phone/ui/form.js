/** Today's form, one question at a time. Shows a draft and names the verbs; keeps nothing itself. */

import { CHILD_SIGNS, FIT_SIGNS, missing, shownStep } from '../checkin.js';
import { isFix } from '../drafts.js';
import { html } from '../../shared/html.js';
import { say } from '../words.js';
import { adviceCards, alarmBar } from './advice.js';
import { cuff, layers } from './cuff.js';
import { dangerStep } from './danger.js';
import { choice, frame, primary, secondary } from './frame.js';
import { gauge } from './gauge.js';
import { moreFields } from './more-fields.js';
import { dayWords, faultWords, justDay, limbWords, reasonLine, reasons, refusedLead, shortDay, stepOf } from './phrases.js';
import { skinStep } from './skin.js';
import { bands, colour, makeWords, MAKES, named, PLIES, plyWords, sockWords, stackWords, totalLine } from './socks.js';
import { linesOf } from './summary.js';

const steps = { danger: dangerStep, socks: socksStep, fit: fitStep, comfort: comfortStep, skin: skinStep, review: reviewStep };

export function formScreen(view) {
  const { draft } = view;
  const whose = view.people.length > 1 || view.role === 'caregiver' ? view.person.name : '';
  const limb = view.person.limbs.length > 1 ? limbWords(view.limb) : '';
  if (view.askDay) return dayAsked(view, draft);
  const about = [whose, limb, shortDay(draft.date, view.today)].filter(Boolean).join(' · ');
  const step = shownStep(draft, view.danger);
  const { title, lead, body, foot } = steps[step](view, draft);
  return frame(view, {
    title, lead, about, back: 'day.back', foot: alarmBar(view, view.advice) || foot ? html`${alarmBar(view, view.advice)}${foot}` : '', reach: step !== 'review',
    body: html`${draft.date === view.today ? '' : html`<p class="notice otherday">${say('day.other', { day: dayWords(draft.date, view.today) })}</p>`}
      ${view.params.error ? html`<p class="notice bad" role="alert">${view.params.error}</p>` : ''}${body}`,
  });
}

/** Begun on one day, gone on with on another: nothing else is asked until this is answered. */
function dayAsked(view, draft) {
  const key = (id, date) => choice(id, 'day.is', date, dayWords(date, view.today), false, 'wide');
  return frame(view, {
    title: say('day.ask'), lead: say('day.ask.lead', { day: dayWords(draft.date, view.today) }), back: 'day.back', foot: alarmBar(view, view.advice), reach: true,
    body: html`<div class="keys one">${key('day-then', draft.date)}${key('day-now', view.today)}</div>`,
  });
}

function sockKey(sock, i, drawer) {
  return html`<button class="key sock ${colour(sock, drawer)}" id="sock-${i}" data-do="day.sock" data-twice="day.twice" data-ply="${sock.ply}" data-make="${sock.make}">
    ${cuff(sock, drawer)}<span>${sockWords(named(sock, drawer))}</span><span class="small">${makeWords(sock)}</span></button>`;
}

function socksStep(view, draft) {
  const { last, drawer } = view;
  const { twice } = view.params;
  const pick = view.params.pick ?? { ply: null, make: null };
  const first = !drawer.length;
  return {
    title: view.words('socks.title'),
    lead: say('socks.lead'),
    body: html`
      <div class="worn" role="status">${layers(draft.stack, drawer)}${draft.stack.length ? html`<div>${bands(draft.stack, drawer)}${totalLine(draft.stack)}</div>` : html`<p class="empty">${draft.bare ? say('stack.none') : say('stack.empty')}</p>`}</div>
      ${twice ? html`<div class="notice" id="twice" role="alert"><p>${say('socks.twice', { sock: sockWords(named(twice, drawer)) })}</p><div class="keys two">
        <button class="key" id="twice-yes" data-do="day.sock" data-ply="${twice.ply}" data-make="${twice.make}">${say('socks.twice.yes')}</button>
        <button class="key" id="twice-no" data-do="day.once">${say('socks.twice.no')}</button></div></div>` : ''}
      ${last && !draft.stack.length && !draft.replaces
        ? html`<button class="key wide" id="same" data-do="day.same"><span>${say('socks.same', { day: justDay(last.checkin.date, view.today) })}</span><strong>${stackWords(last.checkin.stack.map((sock) => named(sock, drawer)))}</strong></button>` : ''}
      <div class="keys socks">${drawer.map((sock, i) => sockKey(sock, i, drawer))}</div>
      <details id="another" ${first || view.params.pick ? html`open` : ''}><summary>${first ? say('socks.first') : say('socks.another')}</summary>
        <fieldset><legend>${say('socks.ply')}</legend><p class="small">${say('socks.ply.what')}</p><div class="keys">${PLIES.map((ply) =>
          choice(`ply-${ply}`, 'day.pick_ply', ply, html`${cuff({ ply })}<span>${plyWords({ ply })}</span>`, pick.ply === ply))}</div></fieldset>
        <fieldset><legend>${say('socks.make')}</legend><div class="keys">${MAKES.map((make) =>
          choice(`make-${make}`, 'day.pick_make', make, say(`make.${make}`), pick.make === make))}</div></fieldset>
        <button class="secondary" id="add-sock" data-do="day.add">${say('socks.add')}</button>
        <button class="link" id="open-drawer" data-do="drawer.open">${say('drawer.open')}</button>
      </details>
      ${draft.stack.length ? '' : choice('bare', 'day.bare', '', say('socks.bare'), draft.bare, 'plainkey')}`,
    foot: primary('next', 'day.next', say('next')),
  };
}

const GAP = { loose: 15, good: 8, tight: 4 };

const DEEP = 116; // where the socket's walls begin to round

const fitPicture = (fit) => html`<svg class="fit-picture" viewBox="0 0 80 ${DEEP + 20}" aria-hidden="true">
  <path class="rim" d="M14 4 V${DEEP} A14 14 0 0 0 28 ${DEEP + 14} H52 A14 14 0 0 0 66 ${DEEP} V4"/>
  <path class="water" d="M${14 + GAP[fit]} 2 V${DEEP + 6 - GAP[fit]} a8 8 0 0 0 8 8 H${58 - GAP[fit]} a8 8 0 0 0 8 -8 V2 z"/>
  ${fit === 'tight' ? html`<path class="press" d="M2 52h9M2 70h9M2 88h9M78 52h-9M78 70h-9M78 88h-9"/>` : ''}
  ${fit === 'loose' ? html`<path class="press" d="M21 40v44m-3 -4 3 4 3 -4M59 40v44m-3 -4 3 4 3 -4"/>` : ''}</svg>`;

function fitStep(view, draft) {
  const shown = draft.fit === 'loose' || draft.fit === 'tight' || draft.signs.length;
  const signs = view.child ? [...FIT_SIGNS, ...CHILD_SIGNS] : FIT_SIGNS;
  return {
    title: view.words('fit.title'),
    body: html`
      ${adviceCards(view)}
      <div class="keys three">${['loose', 'good', 'tight'].map((fit) =>
        choice(`fit-${fit}`, 'day.fit', fit, html`${fitPicture(fit)}<span>${say(`fit.${fit}`)}</span>`, draft.fit === fit, 'picture'))}</div>
      ${shown || view.child
        ? html`<fieldset class="signs"><legend>${say('fit.signs')}</legend>${signs.map((sign) => choice(`sign-${sign}`, 'day.sign', sign, say(`sign.${sign}`), draft.signs.includes(sign), 'plainkey'))}</fieldset>` : ''}`,
    foot: draft.fit || draft.signs.length ? primary('next', 'day.next', say('next')) : secondary('next', 'day.next', say('skip')),
  };
}

function comfortStep(view, draft) {
  return {
    title: view.words('comfort.title'),
    body: gauge(view, draft),
    foot: draft.comfort === null ? '' : primary('next', 'day.next', say('next')),
  };
}

/** In which order the wearer looks it over: the day and what is dangerous first. */
const ORDER = ['moment', 'signs', 'stack', 'fit', 'comfort', 'skin', 'healing', 'left_off', 'photos', 'pain', 'hours_worn', 'activity', 'falls', 'weight_kg', 'tags', 'note'];
/** What was asked has a row always, answered or not; with the step that asks it. */
const ALWAYS = { signs: 'danger', stack: 'socks', fit: 'fit', comfort: 'comfort', skin: 'skin' };

/** The other leg, if today is not written for it: a save can lead straight there. Not past advice, nor out of a correction. */
const otherLimb = (view, draft) => (isFix(draft) || view.advice.length || draft.date !== view.today ? null
  : view.person.limbs.find((limb) => limb.id !== draft.limb_id && !(view.rowsOf[limb.id] ?? []).some((row) => row.checkin.date === view.today)));

function reviewStep(view, draft) {
  const said = new Map(linesOf(view.said, view).map(([field, name, value]) => [field, [name, value]]));
  const gaps = missing(draft);
  if (gaps.includes('socks')) said.delete('stack');
  else if (said.has('prefilled')) said.set('stack', [said.get('stack')[0], html`${said.get('stack')[1]}<span class="small block">${said.get('prefilled')[1]}</span>`]);
  if (!draft.skin && !draft.findings.length) said.delete('skin');
  const [, moment] = said.get('moment');
  said.set('moment', [say('field.date'), html`<strong>${dayWords(draft.date, view.today)}</strong><span class="block">${moment}</span>`]);
  for (const field of Object.keys(ALWAYS)) if (!said.has(field)) said.set(field, [say(field === 'signs' ? 'field.danger' : `field.${field}`), html`<em>${say('review.none')}</em>`]);
  const faults = new Map(view.faults.map((fault) => [fault.field, faultWords(fault, view)]));
  const row = ([field, [name, value]]) => {
    const step = field === 'signs' ? 'danger' : stepOf(field);
    const verb = step ? ['day.step', step, ALWAYS[field] ?? field] : ['day.field', field, field];
    return html`<div class="answer" data-field="${field}"><dt>${name}</dt><dd>${value}${faults.has(field) ? html`<span class="error block">${faults.get(field)}</span>` : ''}</dd>
      <dd><button class="link" id="change-${verb[2]}" data-do="${verb[0]}" data-arg="${verb[1]}" aria-label="${say('review.change_what', { what: name })}">${say('review.change')}</button></dd></div>`;
  };
  const order = ORDER.filter((field) => said.has(field));
  const other = otherLimb(view, draft);
  const mended = draft.mends && view.rowsOf[draft.limb_id]?.find((one) => one.id === draft.mends);
  return {
    title: isFix(draft) ? say('review.title.correct') : say('review.title'),
    body: html`
      ${adviceCards(view)}
      ${mended ? html`<div class="notice bad">${refusedLead(mended)}${reasons(mended, view).map(reasonLine)}</div>` : ''}
      <dl class="answers">${order.map((field) => row([field, said.get(field)]))}</dl>
      ${moreFields(view, draft, faults)}`,
    foot: other ? html`<div class="pair">${primary('save-next', 'day.save', say('save.next', { limb: limbWords(other) }), { arg: other.id })}${secondary('save', 'day.save', say('save'))}</div>` : primary('save', 'day.save', say('save')),
  };
}
