/** Today's form, one question at a time. Shows a draft and names the verbs; keeps nothing itself. */

import { CHILD_SIGNS, FIT_SIGNS, missing } from '../checkin.js';
import { html } from '../../shared/html.js';
import { say } from '../words.js';
import { adviceCards, alarmBar } from './advice.js';
import { choice, frame, primary, secondary } from './frame.js';
import { moreFields } from './more-fields.js';
import { justDay, limbWords, shortDay } from './phrases.js';
import { skinStep } from './skin.js';
import { bands, colour, makeWords, MAKES, named, PLIES, plyWords, sockWords, stackWords } from './socks.js';
import { skinWords } from './summary.js';


const steps = { socks: socksStep, fit: fitStep, comfort: comfortStep, skin: skinStep, review: reviewStep };

export function formScreen(view) {
  const { draft } = view;
  const whose = view.people.length > 1 || view.role === 'caregiver' ? view.person.name : '';
  const limb = view.person.limbs.length > 1 ? limbWords(view.limb) : '';
  const about = [whose, limb, shortDay(draft.date, view.today)].filter(Boolean).join(' · ');
  const { title, lead, body, foot } = steps[draft.step](view, draft);
  return frame(view, {
    title, lead, about, back: 'day.back', foot: html`${alarmBar(view.advice)}${foot}`, reach: draft.step !== 'review',
    body: html`${view.params.error ? html`<p class="notice bad" role="alert">${view.params.error}</p>` : ''}${body}`,
  });
}

function sockKey(sock, i, drawer) {
  return html`<button class="key sock ${colour(sock, drawer)}" id="sock-${i}" data-do="day.sock" data-ply="${sock.ply}" data-make="${sock.make}">
    <span aria-hidden="true" class="weave ply-${sock.ply}"></span><span>${sockWords(named(sock, drawer))}</span><span class="small">${makeWords(sock)}</span></button>`;
}

function socksStep(view, draft) {
  const { last, drawer } = view;
  const pick = view.params.pick ?? { ply: null, make: null };
  const first = !drawer.length;
  return {
    title: view.words('socks.title'),
    lead: say('socks.lead'),
    body: html`
      <div class="worn" role="status">${draft.stack.length ? bands(draft.stack, drawer) : html`<p class="empty">${draft.bare ? say('stack.none') : say('stack.empty')}</p>`}</div>
      ${last && !draft.stack.length && !draft.replaces
        ? html`<button class="key wide" id="same" data-do="day.same"><span>${say('socks.same', { day: justDay(last.checkin.date, view.today) })}</span><strong>${stackWords(last.checkin.stack.map((sock) => named(sock, drawer)))}</strong></button>` : ''}
      <div class="keys socks">${drawer.map((sock, i) => sockKey(sock, i, drawer))}</div>
      <details id="another" ${first || view.params.pick ? html`open` : ''}><summary>${first ? say('socks.first') : say('socks.another')}</summary>
        <fieldset><legend>${say('socks.ply')}</legend><div class="keys">${PLIES.map((ply) =>
          choice(`ply-${ply}`, 'day.pick_ply', ply, plyWords({ ply }), pick.ply === ply))}</div></fieldset>
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

const fitPicture = (fit) => html`<svg class="fit-picture" viewBox="0 0 80 64" aria-hidden="true">
  <path class="rim" d="M14 4 V44 A14 14 0 0 0 28 58 H52 A14 14 0 0 0 66 44 V4"/>
  <path class="water" d="M${14 + GAP[fit]} 2 V${50 - GAP[fit]} a8 8 0 0 0 8 8 H${58 - GAP[fit]} a8 8 0 0 0 8 -8 V2 z"/>
  ${fit === 'tight' ? html`<path class="press" d="M2 22h9M2 34h9M78 22h-9M78 34h-9"/>` : ''}
  ${fit === 'loose' ? html`<path class="press" d="M21 16v26m-3 -4 3 4 3 -4M59 16v26m-3 -4 3 4 3 -4"/>` : ''}</svg>`;

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
    lead: say('comfort.lead'),
    body: html`<div class="scale" role="group" aria-label="${say('comfort.label')}">
      <p class="end worst">${say('comfort.worst')}</p>
      <div class="keys numbers">${Array.from({ length: 11 }, (_, n) => choice(`comfort-${n}`, 'day.comfort', n, String(n), draft.comfort === n, 'number'))}</div>
      <p class="end best">${say('comfort.best')}</p></div>`,
    foot: primary('next', 'day.next', say('next')),
  };
}

function reviewStep(view, draft) {
  const gaps = missing(draft);
  const row = (step, name, value) => html`<div class="answer"><dt>${name}</dt><dd>${value}</dd>
    <dd><button class="link" id="change-${step}" data-do="day.step" data-arg="${step}" aria-label="${say('review.change_what', { what: name })}">${say('review.change')}</button></dd></div>`;
  const none = html`<em>${say('review.none')}</em>`;
  return {
    title: draft.replaces || draft.mends ? say('review.title.correct') : say('review.title'),
    body: html`
      ${adviceCards(view)}
      <dl class="answers">
        ${row('socks', say('field.stack'), gaps.includes('socks') ? none : stackWords(draft.stack.map((sock) => named(sock, view.drawer))))}
        ${row('fit', say('field.fit'), draft.fit || draft.signs.length ? [draft.fit && say(`fit.${draft.fit}`), ...draft.signs.filter((s) => FIT_SIGNS.includes(s) || CHILD_SIGNS.includes(s)).map((s) => say(`sign.${s}`))].filter(Boolean).join('. ') : none)}
        ${row('comfort', say('field.comfort'), draft.comfort === null ? none : say('said.of_ten', { n: draft.comfort }))}
        ${row('skin', say('field.skin'), draft.skin === 'found' ? (draft.findings.length ? skinWords(draft.findings) : say('skin.found')) : draft.skin ? say(`skin.${draft.skin}`) : none)}
      </dl>
      ${moreFields(view, draft)}`,
    foot: primary('save', 'day.save', say('save')),
  };
}
