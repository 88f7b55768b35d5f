/** The limb in its socket: the rim stays, the water inside is what the wearer wrote. More sock, lower water. */

import { html } from '../../shared/html.js';
import { AHEAD, BACK, dateAt, waterline } from '../waterline.js';
import { middayOf } from '../when.js';
import { dateWords, directionNow, say } from '../words.js';

const LEFT = 10;
const WIDE = 300 / (BACK + AHEAD + 1); // a day
const [TOP, HIGH, LOW, FLOOR] = [16, 32, 96, 112]; // the rim, the water without a sock and with the most, the socket's end
const ROUND = 8;
const LEAST = 4; // mm of sock the height is good for: who wears one sock does not fill it. Judgement.

const to = (number) => Number(number.toFixed(1));

/** A day's water: its surface runs half way to a neighbour's, so that days that follow each other are one line. */
function surfaces(days, x, y) {
  const half = (day, other) => to((y(day.mm) + y(other?.mm ?? day.mm)) / 2);
  return days.map((day, i) => {
    const [before, after] = [day.gap === 0 ? days[i - 1] : null, days[i + 1]?.gap === 0 ? days[i + 1] : null];
    const [level, from, till] = [to(y(day.mm)), half(day, before), half(day, after)];
    return { ...day, left: x(day.at), middle: to(x(day.at) + WIDE / 2), right: x(day.at + 1), level, top: to((from + 2 * level + till) / 4), from, till };
  });
}

const surface = (day) => `M${day.left} ${day.from}Q${day.middle} ${day.level} ${day.right} ${day.till}`;

function column(day, rim) {
  const right = day.at + 1 === rim.to ? `V${FLOOR - ROUND}q0 ${ROUND} -${ROUND} ${ROUND}` : `V${FLOOR}`;
  const left = day.at === rim.from ? `H${day.left + ROUND}q-${ROUND} 0 -${ROUND} -${ROUND}z` : `H${day.left}z`;
  return html`<path class="column" fill-opacity="${to(0.2 + 0.07 * (day.comfort ?? 0))}" d="${surface(day)}${right}${left}"/>`;
}

function rimPath(rim, x) {
  const [from, till] = [x(rim.from), x(rim.to)];
  const round = Math.min(ROUND, to((till - from) / 2));
  return html`<path class="rim" d="M${from} ${TOP}V${FLOOR - round}q0 ${round} ${round} ${round}H${to(till - round)}q${round} 0 ${round} -${round}V${TOP}"/>`;
}

/** The picture of a limb as the screens have it. */
export const limbPicture = (view, limb, { fresh = false } = {}) =>
  tidePicture(view.rowsOf[limb.id] ?? [], { today: view.today, sockets: limb.sockets, visits: view.visits.filter((one) => one.person_id === view.person.id), fresh, whole: view.whole });

/** `fresh`: the entry of today was just saved, and its line may be seen being drawn; `whole`: all that was written is here. */
export function tidePicture(rows, { today, sockets, visits, fresh = false, whole = true }) {
  const { days, rims, flags } = waterline(rows, { today, sockets, visits });
  const most = Math.max(LEAST, ...days.map((day) => day.mm));
  const x = (at) => to(LEFT + at * WIDE);
  const y = (mm) => HIGH + (mm / most) * (LOW - HIGH);
  const middle = (at) => to(x(at) + WIDE / 2);
  const drawn = surfaces(days, x, y);
  const seen = drawn.at(-1);
  const gaps = drawn.map((day, i) => (day.gap ? html`<path class="gap" d="M${drawn[i - 1].right} ${drawn[i - 1].level}L${day.left} ${day.level}"/>` : ''));
  const buoys = drawn.filter((day) => day.found.length).map((day) => html`<path class="buoy" d="M${day.middle} ${day.top}v-4m-4 -4a4 4 0 1 1 8 0a4 4 0 1 1 -8 0"/>`);
  // What runs from right to left is drawn as in a mirror; its words are not.
  const rtl = directionNow() === 'rtl';
  const place = (at) => (rtl ? to(320 - middle(at)) : middle(at));
  const weeks = [3, 2, 1].map((n) => BACK - 7 * n);
  const named = (at) => html`<text x="${place(at)}" y="130">${dateWords(middayOf(dateAt(at, today)), { day: 'numeric', month: 'short' })}</text>`;
  const label = `${say('story.picture')} ${say('story.days', { n: days.length })}`;
  return html`<svg class="tide-picture" viewBox="0 0 320 134" ${rows.length ? html`role="img" aria-label="${label}"` : html`aria-hidden="true"`} focusable="false">
    <g ${rtl ? html`transform="translate(320 0) scale(-1 1)"` : ''}>
      ${days.at(-1)?.at === BACK ? '' : html`<path class="place" d="M${x(BACK)} ${FLOOR}V${HIGH}H${x(BACK + 1)}V${FLOOR}"/>`}
      ${drawn.map((day) => column(day, rims[day.rim]))}${gaps}
      ${drawn.map((day) => html`<path class="surface" ${fresh && day === seen ? html`id="line-today"` : ''} pathLength="1" d="${surface(day)}"/>`)}
      ${rims.map((rim) => rimPath(rim, x))}
      ${[...weeks, BACK].map((at) => html`<path class="week" d="M${middle(at)} ${FLOOR + 3}v4"/>`)}
      ${buoys}${flags.map((at) => html`<path class="flag" d="M${middle(at)} ${HIGH}V3l9 4l-9 4"/>`)}
      ${seen ? html`<circle class="drop" cx="${seen.middle}" cy="${seen.top}" r="3.5"/>` : ''}
    </g>
    ${weeks.map(named)}<text class="now" x="${place(BACK)}" y="130">${say('day.just.0')}</text>
  </svg>${rows.length || !whole ? '' : html`<p class="first-line">${say('tide.first')}</p>`}`;
}
