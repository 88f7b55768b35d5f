/** After a save: where the entry is now, and what to do next if anything is urgent. */

import { html } from '../../shared/html.js';
import { say } from '../words.js';
import { adviceCards, alarmBar } from './advice.js';
import { tipWords } from './cards.js';
import { frame, primary, secondary } from './frame.js';
import { fixKey, limbWords, reasonLine, reasons, refusedLead, shortDay, state } from './phrases.js';
import { limbPicture } from './tide.js';
import { fitWords } from './pocket.js';
import { nextVisit } from './visits.js';
import { trueLine, weekCard } from './week.js';

const TITLES = { refused: 'saved.title.refused', unlinked: 'saved.title.unlinked', not_kept: 'saved.title.not_kept' };
const MENDED = ['refused', 'unlinked'];

/** What has become of it: nothing is called written down that the clinic refused, or that nobody will fetch. */
function fateOf(view, row) {
  if (row.state === 'refused') return 'refused';
  if (row.state === 'waiting' && view.unlinked) return 'unlinked';
  return view.keeps ? row.state : 'not_kept';
}

export function savedScreen(view) {
  const row = view.entry;
  const rest = view.person.limbs.filter((limb) => limb.id !== row.limb_id && !(view.rowsOf[limb.id] ?? []).some((one) => one.checkin.date === view.today));
  const fate = fateOf(view, row);
  // Nothing is praised beside a danger that stands, of this limb or the other.
  const fine = !view.advice.length && !TITLES[fate] && !view.person.limbs.some((limb) => view.standing[limb.id]?.length);
  const first = !view.settings.times && Object.values(view.rows).flat().filter((one) => one.account === row.account).length === 1;
  return frame(view, {
    title: say(TITLES[fate] ?? 'saved.title'),
    about: shortDay(row.checkin.date, view.today),
    back: 'home',
    body: html`
      ${adviceCards(view)}
      <p class="state big ${row.state}" role="status"><span class="tick" aria-hidden="true"></span>${state(row)}</p>
      ${fate === 'refused' ? html`<div class="notice bad">${refusedLead(row)}${reasons(row, view).map(reasonLine)}</div>` : ''}
      ${fate === 'unlinked' ? html`<p class="notice bad">${say('saved.unlinked')}</p>` : ''}
      ${fate === 'kept' || fate === 'waiting' || fate === 'not_kept' ? html`<p>${row.state === 'kept' ? say('saved.kept') : say(view.reached === false ? 'saved.no_network' : 'saved.sending')}</p>` : ''}
      ${fitWords(view, row.checkin)}
      ${fine ? trueLine(view, view.limb) : ''}
      ${limbPicture(view, view.limb, { fresh: row.checkin.date === view.today })}
      ${weekCard(view, view.limb)}
      ${nextVisit(view)}
      ${first ? html`<section class="card"><p>${say('remind.offer')}</p>${secondary('remind-offer', 'remind.open', say('remind.title'))}</section>` : ''}
      ${!fine || first ? '' : html`<p class="tip-line"><strong>${say('tip.title')}</strong> ${tipWords(view)}</p>`}`,
    foot: html`${alarmBar(view, view.advice)}<div class="pair">${fate === 'refused' ? fixKey(row, view) : ''}
      ${fate === 'unlinked' ? primary('new-code', 'enrol.more', say('link.key')) : ''}
      ${rest.length ? (MENDED.includes(fate) ? secondary : primary)('other', 'day.open', say('home.log.limb', { limb: limbWords(rest[0]) }), { arg: rest[0].id }) : ''}
      ${rest.length || MENDED.includes(fate) ? secondary('done', 'home', say('done')) : primary('done', 'home', say('done'))}</div>`,
  });
}
