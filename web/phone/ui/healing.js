/** A place of skin found on an earlier day: how it is now, with its own photos side by side. */

import { html } from '../../shared/html.js';
import { askedAfter } from '../../shared/healing.js';
import { plusDays } from '../when.js';
import { say } from '../words.js';
import { choice } from './frame.js';
import { justDay } from './phrases.js';
import { skinWords } from './summary.js';

const COURSES = ['gone', 'better', 'same', 'worse'];
const SHOWN = 3; // photos beside each other

const threads = (view, date) => askedAfter((view.rowsOf[view.limb.id] ?? []).map((row) => row.checkin), date);

function photos({ looks }, view) {
  const known = looks.flatMap((look) => look.photos.map((id) => [id, look.date])).filter(([id]) => view.pictures[id]).slice(-SHOWN);
  return known.length ? html`<ul class="photos">${known.map(([id, date]) => html`<li><img src="${view.pictures[id]}" alt="${say('healing.photo', { day: justDay(date, view.today) })}"><span class="small">${justDay(date, view.today)}</span></li>`)}</ul>` : '';
}

const was = (thread, view) => `${justDay(thread.last, view.today)}: ${skinWords(thread.found)}.`;

/** Asked before the rest of the skin. */
export const howNow = (view, draft) => threads(view, draft.date).map((thread) => {
  const id = `healing-${thread.place.replace(/\W+/g, '_')}`;
  const said = draft.healing.find((one) => one.place === thread.place)?.course;
  return html`<fieldset class="card" id="${id}"><legend class="only-heard">${was(thread, view)} ${say('healing.ask')}</legend>
    <p>${was(thread, view)} <strong>${say('healing.ask')}</strong></p>${photos(thread, view)}
    <div class="keys">${COURSES.map((course) => choice(`${id}-${course}`, 'day.course', `${course} ${thread.place}`, say(`healing.${course}`), said === course))}</div></fieldset>`;
});

/** In the wearer's own story: the places that are followed. */
export function followed(view) {
  const own = threads(view, plusDays(view.today, 1));
  return own.length ? html`<section><h2>${say('healing.title')}</h2>${own.map((thread) => html`<p>${was(thread, view)}</p>${photos(thread, view)}`)}</section>` : '';
}
