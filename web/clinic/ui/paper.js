/** What the printed pages share: buttons, evidence, and the volume as a drawing that prints sharp. */

import { pdfAddress } from '../api.js';
import { html } from '../../shared/html.js';
import { day, daysBetween } from '../when.js';
import { pct } from '../words.js';

export function paperButtons(limbId, page) {
  return html`<p class="buttons"><button type="button" class="main" data-do="print">Print</button>
    <a class="second" href="${pdfAddress(limbId, page, 'a4')}" target="_blank" rel="noopener">PDF, A4</a>
    <a class="second" href="${pdfAddress(limbId, page, 'letter')}" target="_blank" rel="noopener">PDF, Letter</a></p>`;
}

/** The days of the check-ins a line was made from, each opening the limb's story on that day. */
export function evidenceLinks(ids, story) {
  const dates = story.days.filter((one) => one.checkins.some((checkin) => ids.includes(checkin.id))).map((one) => one.date).sort();
  return dates.length ? html`<span class="links">${dates.slice(-3).map((date) => html`<a href="#/limbs/${story.limb.id}?day=${date}">${day(date)}</a> `)}${dates.length > 3 ? html`<span class="hint">and ${dates.length - 3} before</span>` : ''}</span>` : html`<span class="links"><a href="#/limbs/${story.limb.id}">the log</a></span>`;
}

const [WIDE, HIGH, LEFT, LOW] = [700, 150, 44, 18];

export function tidePicture(band) {
  if (band.length < 2) return html`<p class="hint">Too little is logged for a drawing.</p>`;
  const seen = band.slice(-91);
  const top = Math.max(1, ...seen.map((point) => point.high)) + 0.5;
  const bottom = Math.min(-3, ...seen.map((point) => point.low)) - 0.5;
  const x = (point) => (LEFT + ((WIDE - LEFT - 4) * daysBetween(seen[0].date, point.date)) / daysBetween(seen[0].date, seen.at(-1).date)).toFixed(1);
  const y = (value) => (4 + ((HIGH - LOW - 4) * (top - value)) / (top - bottom)).toFixed(1);
  const line = (name) => seen.map((point) => `${x(point)} ${y(point[name])}`).join('L');
  const step = top - bottom > 12 ? 5 : 2;
  const marks = [];
  for (let value = Math.ceil(bottom / step) * step; value <= top; value += step) marks.push(value);
  const last = seen.at(-1);
  const words = `Volume from ${day(seen[0].date)} to ${day(last.date)}, against the fitting day: ${pct(seen[0].pct)} to ${pct(last.pct)}`;
  return html`<svg class="tide-picture" viewBox="0 0 ${WIDE} ${HIGH}" role="img" aria-label="${words}">
    ${marks.map((value) => html`<path class="grid" d="M${LEFT} ${y(value)}H${WIDE - 4}"/><text x="${LEFT - 6}" y="${Number(y(value)) + 4}" text-anchor="end">${value > 0 ? '+' : value < 0 ? '−' : ''}${Math.abs(value)} %</text>`)}
    <path class="band" d="M${line('high')}L${[...seen].reverse().map((point) => `${x(point)} ${y(point.low)}`).join('L')}Z"/>
    <path class="rim" d="M${LEFT} ${y(0)}H${WIDE - 4}"/><path class="tide" d="M${line('pct')}"/>
    <text x="${LEFT}" y="${HIGH - 3}">${day(seen[0].date)}</text><text x="${WIDE - 4}" y="${HIGH - 3}" text-anchor="end">${day(last.date)}</text></svg>
    <p class="says">${words}. Thick line at 0: the socket’s rim.</p>`;
}
