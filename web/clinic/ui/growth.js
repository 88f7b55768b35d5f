/** A growing limb: what says that a child is growing out of the socket, and visits that could be one. */

import { html } from '../../shared/html.js';
import { CHILD_DAYS } from '../../shared/safety.js';
import { day, daysBetween, later, weekday } from '../when.js';
import { atFitting, SIGN, stack } from '../words.js';
import { thickness } from '../../shared/thickness.js';

const OUTGROWN = ['cannot_get_fully_in', 'fewer_clicks', 'sinks_to_bottom'];
const BONY = ['bony_point', 'stretched_skin'];
const NEAR_DAYS = 21;

export function isChild(person, asOf) {
  return Boolean(person.born_on) && later(person.born_on, CHILD_DAYS) > asOf;
}

/** Mean morning stack in mm over the days from `from` up to, not with, `to`; null without any. */
function meanStack(lines, from, to) {
  const mm = lines.filter((line) => line.morning && line.date >= from && line.date < to)
    .map((line) => line.morning.stack_mm);
  return mm.length ? mm.reduce((sum, one) => sum + one, 0) / mm.length : null;
}

export function growth(story, lines, family = []) {
  const socket = story.sockets.filter((one) => !one.retired_on).at(-1);
  const since = later(story.as_of, -42);
  const worn = socket?.fitted_on ?? ''; // what the socket before was outgrown by says nothing of this one
  const inThis = [since, worn].sort().at(-1);
  const seen = (names, since) => names.flatMap((name) => {
    const dates = lines.filter((line) => line.date >= since && line.signs.includes(name)).map((line) => line.date);
    return dates.length ? [{ name, dates }] : [];
  });
  const known = socket?.stack_at_fitting && !socket.baseline_unsure;
  const first = known ? thickness(socket.stack_at_fitting) : null;
  const now = meanStack(lines, [later(story.as_of, -14), worn].sort().at(-1), later(story.as_of, 1));
  const last = [...lines].reverse().find((line) => line.morning && line.date >= worn);
  const weights = [...story.measurements.filter((one) => one.weight_kg).map((one) => [one.on, one.weight_kg]),
    ...lines.filter((line) => line.weight).map((line) => [line.date, line.weight])].sort();
  const heights = story.measurements.filter((one) => one.height_cm);
  const visits = [...family].sort((a, b) => a.on.localeCompare(b.on));
  const days = [...new Set(visits.map((visit) => visit.on))];
  const near = days.filter((one, i) => i && daysBetween(days[i - 1], one) <= NEAR_DAYS);
  return html`<section class="plot" aria-labelledby="growth"><h2 id="growth">Growth</h2>
    <dl class="facts">
      ${line('Sock stack', now === null ? 'too little logged' : first === null ? `${now.toFixed(1)} mm on average in the last two weeks. At fitting: ${socket ? atFitting(socket) : 'no socket entered'}` : `${stack(socket.stack_at_fitting)} (${first.toFixed(1)} mm) when this socket was fitted, ${now.toFixed(1)} mm on average in the last two weeks${
        now < first - 0.35 ? '. It is falling: the limb fills the socket more.' : now > first + 0.35 ? '. It is rising.' : '. About the same.'}`)}
      ${last && last.morning.stack_mm < 0.35 ? line('No sock left', `${said(last)} in the morning of ${day(last.date)}. There is nothing left to take off.`) : ''}
      ${line('Signs of an outgrown socket', signs(seen(OUTGROWN, inThis), inThis))}
      ${line('Bony end', signs(seen(BONY, since), since))}
      ${line('Weight', weights.length ? `${weights[0][1]} kg on ${day(weights[0][0])}${weights.length > 1 ? `, ${weights.at(-1)[1]} kg on ${day(weights.at(-1)[0])}` : ''}` : 'not entered')}
      ${line('Height', heights.length ? `${heights[0].height_cm} cm on ${day(heights[0].on)}${heights.length > 1 ? `, ${heights.at(-1).height_cm} cm on ${day(heights.at(-1).on)}` : ''}` : 'not entered')}
      ${line('Visits of the family', visits.length ? html`${visits.map((visit) => `${weekday(visit.on)}, ${visit.person}`).join('; ')}${near.length ? '. Some are within three weeks of each other: could they be one day, to save school?' : ''}` : 'none planned')}
    </dl></section>`;
}

const line = (name, words) => html`<div><dt>${name}</dt><dd>${words}</dd></div>`;

const said = ({ morning }) => (morning.stack.length ? stack(morning.stack) : 'No sock');

function signs(found, since) {
  if (!found.length) return `none reported since ${day(since)}`;
  return found.map(({ name, dates }) => html`${SIGN[name]}: ${dates.slice(-4).map((date) => html`<button type="button" class="plain" data-open-day="${date}">${day(date)}</button> `)}`);
}
