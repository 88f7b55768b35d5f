/** The skin question: fine, not looked, or what was found and where; urgent advice at once. */

import { SKIN_SIGNS, skinSaid, unasked } from '../checkin.js';
import { PLACES } from '../../shared/places.js';
import { html } from '../../shared/html.js';
import { MOST_PHOTOS } from '../photo.js';
import { say } from '../words.js';
import { adviceCards } from './advice.js';
import { bodyMap, bothSides } from './body-map.js';
import { howNow } from './healing.js';
import { choice, primary, secondary } from './frame.js';
import { leftOff } from './standing.js';

const FINDINGS = ['redness', 'blister', 'open_skin', 'discharge', 'spreading_redness', 'colour_change', 'numbness', 'rash', 'swelling', 'callus', 'other'];
const MINUTES = [5, 10, 20, 30, 60];

export function skinStep(view, draft) {
  const careful = view.limb.careful;
  const before = howNow(view, draft);
  return {
    title: view.words('skin.title'),
    lead: careful ? say('skin.lead.careful') : say('skin.lead'),
    body: html`
      ${adviceCards(view)}
      ${before}${leftOff(view, draft)}
      ${view.photoAsked && draft.skin !== 'found' ? photos(view, draft, say('photo.asked')) : ''}
      ${draft.skin || view.advice.length || view.photoAsked || before.length ? '' : bothSides(view)}
      <div class="keys one">
        ${choice('skin-fine', 'day.skin', 'fine', say('skin.fine'), draft.skin === 'fine', 'wide good')}
        ${choice('skin-found', 'day.skin', 'found', say('skin.found'), draft.skin === 'found', 'wide')}
        ${choice('skin-not', 'day.skin', 'not_looked', say('skin.not_looked'), draft.skin === 'not_looked', 'wide')}
      </div>
      ${draft.skin === 'found' ? found(view, draft) : ''}
      ${draft.skin === 'found' || SKIN_SIGNS.some((sign) => draft.signs.includes(sign)) ? signs(draft) : ''}`,
    foot: draft.skin ? primary('next', 'day.next', say('next')) : secondary('next', 'day.next', say('skip')),
  };
}

function found(view, draft) {
  const places = PLACES[view.limb.level] ?? PLACES.transtibial;
  const { place } = draft;
  const at = (name) => draft.findings.filter((one) => one.place === name);
  const open = skinSaid(draft).find((one) => one.finding === 'other' && !draft.findings.some(({ place: named }) => named === one.place));
  return html`
    <fieldset><legend>${say('skin.where')}</legend>
      ${bodyMap(view, draft)}
      <div class="keys two">${places.map((name) => choice(`place-${name}`, 'day.place', name,
        html`<span>${say(`place.${name}`)}</span>${at(name).length ? html`<span class="small">${at(name).map((one) => say(`finding.${one.finding}`)).join(', ')}</span>` : ''}`, place === name || at(name).length > 0))}</div></fieldset>
    ${place ? html`<fieldset id="what"><legend>${say('skin.what', { place: say(`place.${place}`) })}</legend>
      <div class="keys two">${FINDINGS.map((finding) => choice(`finding-${finding}`, 'day.finding', finding, say(`finding.${finding}`), at(place).some((one) => one.finding === finding)))}</div></fieldset>` : ''}
    ${open ? html`<p class="notice" id="unsaid" role="status">${say('skin.unsaid', { place: say(`place.${open.place}`) })}</p>` : ''}
    ${draft.findings.filter((one) => one.finding === 'redness').map((one, i) => howLong(view, draft, one, i ? `minutes-${one.place}` : 'minutes'))}
    ${photos(view, draft)}`;
}

function photos(view, draft, asked = '') {
  return html`<fieldset><legend>${say('photo.add')}</legend><p class="small">${asked || say('photo.lead')}</p>
      ${draft.photos.length ? html`<ul class="photos">${draft.photos.map((id, i) => html`<li>${view.pictures[id] ? html`<img src="${view.pictures[id]}" alt="${say('photo.count', { n: 1 })}">` : ''}
        <button class="link" id="unphoto-${i}" data-do="day.unphoto" data-arg="${id}">${say('photo.remove', { n: i + 1 })}</button></li>`)}</ul>` : ''}
      ${draft.photos.length < MOST_PHOTOS
        ? html`<label class="key wide file" for="photo">${say('photo.add')}<input class="unseen" id="photo" type="file" accept="image/*" capture="environment" data-change="day.photo"></label>` : html`<p class="small">${say('photo.many')}</p>`}
    </fieldset>`;
}

/** Asked of every redness, wherever it is: without an answer nobody can tell a short one from a long one. */
function howLong(view, draft, one, id) {
  const due = unasked(draft).includes(one);
  return html`<fieldset class="${due ? 'how-long' : ''}"><legend>${say('skin.minutes', { place: say(`place.${one.place}`) })}</legend>
    ${due && view.params.error ? html`<p class="error">${say('skin.error.minutes')}</p>` : ''}
    <div class="keys">${MINUTES.map((minutes) => choice(`${id}-${minutes}`, 'day.minutes', `${minutes} ${one.place}`, say(`minutes.${minutes}`), one.redness_minutes === minutes))}
      ${choice(`${id}-unknown`, 'day.minutes', `unknown ${one.place}`, say('minutes.unknown'), one.unknown === true)}</div></fieldset>`;
}

const signs = (draft) => html`<fieldset class="signs"><legend>${say('skin.also')}</legend>
  ${SKIN_SIGNS.map((sign) => choice(`sign-${sign}`, 'day.sign', sign, say(`sign.${sign}`), draft.signs.includes(sign), 'plainkey'))}</fieldset>`;
