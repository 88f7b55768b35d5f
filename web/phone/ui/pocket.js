/** The clinic's own words for this person: after a loose or tight fit, and on a page of their own. */

import { html } from '../../shared/html.js';
import { mayAct, wornOf } from '../pocket.js';
import { localDate } from '../when.js';
import { number, say } from '../words.js';
import { newSocket, wornLine } from './cards.js';
import { choice, frame, secondary } from './frame.js';
import { limbWords, sayOf, shortDay } from './phrases.js';
import { standingCard } from './standing.js';

const HELD = ['loose', 'tight', 'wear'];
const PARTS = [...HELD, 'care', 'bring'];

const from = ({ at }, view) => html`<p class="small">${say('pocket.from', { day: shortDay(localDate(new Date(at)), view.today) })}</p>`;

const part = (plan, name) => html`<h2>${say(`pocket.${name}`)}</h2><p class="clinic-words" dir="auto">${plan[name]}</p>`;

/** Its words for a fit that was just written of today. */
export function fitWords(view, { fit, date }) {
  const plan = view.limb?.pocket;
  if (!plan?.[fit] || date !== view.today || !mayAct(view)) return '';
  return html`<section class="card tip" id="pocket-${fit}">${part(plan, fit)}${from(plan, view)}${link()}</section>`;
}

const link = () => html`<button class="link" id="pocket-open" data-do="pocket.open">${say('pocket.open')}</button>`;

/** On the first page, where there is something to read there. */
export const pocketLink = (view) => (view.person.limbs.some((limb) => limb.pocket || newSocket(limb, view.today)?.steps.length) ? link() : '');

/** The hours of each day as the clinic planned them, and the keys of the clock. */
function hoursCard(view, limb, fresh) {
  const { on } = wornOf(view.settings.worn?.[limb.id], view.now);
  return html`<section class="card"><h2>${say('new.title', { n: fresh.day })}</h2>
    <p><strong>${sayOf(view, 'new.hours', { n: fresh.hours, hours: number(fresh.hours) })}</strong></p>
    ${wornLine(view, limb, fresh.hours)}
    ${secondary('worn', 'pocket.worn', say(on ? 'pocket.off' : 'pocket.on'), { arg: limb.id })}
    <p class="small">${say('pocket.hours')}</p>
    <ol class="wear-days">${fresh.steps.map(({ day, hours }) => html`<li${day === fresh.day ? html` class="now" aria-current="date"` : ''}><span>${say('story.day')} ${number(day)}</span> <strong>${number(hours)}</strong></li>`)}</ol></section>`;
}

export function pocketScreen(view) {
  const { limb, person } = view;
  const plan = limb.pocket;
  const fresh = newSocket(limb, view.today);
  const acts = mayAct(view);
  const shown = plan ? PARTS.filter((name) => plan[name] && (acts || !HELD.includes(name))) : [];
  const timed = acts && fresh?.steps.length && fresh.hours !== null;
  return frame(view, {
    title: sayOf(view, 'pocket.title'), back: 'pocket.close',
    body: html`${person.limbs.map((one) => standingCard(view, one))}
      ${person.limbs.length > 1 ? html`<div class="row">${person.limbs.map((one) => choice(`limb-${one.id}`, 'limb', one.id, limbWords(one), one.id === limb.id))}</div>` : ''}
      ${timed ? hoursCard(view, limb, fresh) : ''}
      ${shown.map((name) => html`<section class="card">${part(plan, name)}</section>`)}
      ${shown.length ? from(plan, view) : ''}${timed || shown.length || !acts ? '' : html`<p>${say('message.none')}</p>`}`,
  });
}
