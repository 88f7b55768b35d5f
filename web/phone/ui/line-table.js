/** The picture of the last weeks as a table: a row for each day that has anything, the last day first. */

import { html } from '../../shared/html.js';
import { dateAt, waterline } from '../waterline.js';
import { say } from '../words.js';
import { justDay } from './phrases.js';
import { stackWords } from './socks.js';
import { skinWords } from './summary.js';

export function lineTable(view, limb) {
  const { today } = view;
  const visits = view.visits.filter((one) => one.person_id === view.person.id);
  const { days, rims, flags } = waterline(view.rowsOf[limb.id] ?? [], { today, sockets: limb.sockets, visits });
  const fresh = rims.filter((rim) => rim.fresh).map((rim) => rim.from);
  const shown = [...new Set([...days.map((day) => day.at), ...fresh, ...flags])].sort((a, b) => b - a);
  const cells = (at) => {
    const day = days.find((one) => one.at === at);
    const also = [fresh.includes(at) && say('tide.socket'), flags.includes(at) && say('tide.visit'), day?.found.length && skinWords(day.found)];
    return html`<td>${day ? stackWords(day.stack) : ''} <span class="small block">${also.filter(Boolean).join('. ')}</span></td><td>${day ? day.comfort : ''}</td>`;
  };
  return html`<div class="scroll" tabindex="0" role="region" aria-label="${say('story.table')}"><table>
    <thead><tr>${['story.day', 'field.stack', 'field.comfort'].map((key) => html`<th scope="col">${say(key)}</th>`)}</tr></thead>
    <tbody>${shown.map((at) => html`<tr><th scope="row">${justDay(dateAt(at, today), today)}</th>${cells(at)}</tr>`)}</tbody></table></div>`;
}
