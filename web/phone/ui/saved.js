/** After a save: where the entry is now, and what to do next if anything is urgent. */

import { html } from '../../shared/html.js';
import { say } from '../words.js';
import { adviceCards } from './advice.js';
import { frame, primary, secondary } from './frame.js';
import { limbWords, state } from './phrases.js';
import { tidePicture } from './tide.js';

const TIPS = 5;

/** Another tip each day. */
const tipOf = (today) => (Number(today.slice(8)) % TIPS) + 1;

export function savedScreen(view) {
  const row = view.entry;
  const rest = view.person.limbs.filter((limb) => limb.id !== row.limb_id && !(view.rowsOf[limb.id] ?? []).some((one) => one.checkin.date === view.today));
  return frame(view, {
    title: view.keeps ? say('saved.title') : say('saved.title.not_kept'),
    back: 'home',
    body: html`
      ${adviceCards(view)}
      ${tidePicture(view.rowsOf[row.limb_id] ?? [], view.today)}
      <p class="state big ${row.state}" role="status"><span class="tick" aria-hidden="true"></span>${state(row)}</p>
      <p>${row.state === 'waiting' ? (view.reached === false ? say('saved.no_network') : say('saved.sending')) : row.state === 'kept' ? say('saved.kept') : say('saved.refused')}</p>
      ${view.advice.length ? '' : html`<p class="tip-line"><strong>${say('tip.title')}</strong> ${say(`tip.${tipOf(view.today)}`)}</p>`}`,
    foot: html`<div class="pair">${rest.length ? primary('other', 'day.open', say('home.log.limb', { limb: limbWords(rest[0]) }), { arg: rest[0].id }) : ''}
      ${rest.length ? secondary('done', 'home', say('done')) : primary('done', 'home', say('done'))}</div>`,
  });
}
