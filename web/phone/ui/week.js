/** What comes back for a day that was written: one true sentence, the week as seven drops, and a look back at it. */

import { html } from '../../shared/html.js';
import { sentenceOf, weekOf } from '../sentence.js';
import { middayOf } from '../when.js';
import { dateWords, say } from '../words.js';
import { named, stackWords } from './socks.js';

const socksOf = (stack, view) => (stack ? stackWords(stack.map((sock) => named(sock, view.drawer))) : '');

const fittedOn = (limb, today) => (limb.sockets ?? []).map((socket) => socket.fitted_on).filter((on) => on <= today).sort().at(-1) ?? null;

export function trueLine(view, limb) {
  const said = sentenceOf(view.rowsOf[limb.id] ?? [], { today: view.today, fitted: fittedOn(limb, view.today), whole: view.whole });
  return said && html`<p class="takeaway">${say(`true.${said.key}`, { n: said.n, socks: socksOf(said.stack, view) })}</p>`;
}

const DROP = 'M12 2q7 8 7 13a7 7 0 0 1 -14 0q0 -5 7 -13z';

export function weekDrops(view, limb) {
  if (!view.whole) return '';
  const week = weekOf(view.rowsOf[limb.id] ?? [], view.today);
  return html`<div class="week-drops" role="img" aria-label="${say('week.days', { n: week.n })}">${week.days.map((day) => html`<span class="${day.date === view.today ? 'now' : ''}" aria-hidden="true">
    <svg class="${day.on ? 'on' : ''}" viewBox="0 0 24 24"><path d="${DROP}"/></svg>${dateWords(middayOf(day.date), { weekday: 'narrow' })}</span>`)}</div>`;
}

/** On the day of the week the wearer chose, once something was written in it. */
export function weekCard(view, limb) {
  const week = weekOf(view.rowsOf[limb.id] ?? [], view.today);
  if (!view.whole || view.settings.week_on !== middayOf(view.today).getDay() || !week.n) return '';
  const comfort = week.low === week.high ? say('home.comfort', { n: week.low }) : say('week.comfort', week);
  return html`<section class="card"><h2>${say('week.title')}</h2><p>${say('week.days', week)} ${comfort}${week.socks ? html` ${say('week.socks', { socks: socksOf(week.socks, view) })}` : ''}</p></section>`;
}
