/** The rows of today's list, by how urgent: whom to call, in one line of some forty-four pixels each. */

import { html } from '../../shared/html.js';
import { ago, ahead, day, daysBetween, shortInstant } from '../when.js';
import { kindWord, lacking, limbName, many, pct, plies, STATE, URGENCY } from '../words.js';
import { byUrgency, standing } from './signals.js';
import { chips, plyStrip, urgencyMark } from './marks.js';
import { callKeys } from './reach.js';

const LONG_SILENT = 3;
const CHIPS = 2; // a row has room for so many; of more, one and how many they are

/** Rung by rung; those with nothing asked are one line that unfolds. `unfolded`: nothing else was asked for. */
export function rungs(limbs, { asOf, everyone, quiet, unfolded }) {
  return [3, 2, 1, 0].map((urgency) => {
    const rows = limbs.filter((row) => row.urgency === urgency);
    if (!rows.length) return '';
    const list = html`<ul class="rows">${rows.map((row) => listRow(row, asOf, everyone))}</ul>`;
    if (urgency) return html`<h2 class="rung">${urgencyMark(urgency)}${URGENCY[urgency].title}</h2>${list}`;
    const count = Math.max(quiet ?? 0, rows.length);
    return html`<details class="folded" id="quiet"${unfolded || rows.length === limbs.length ? html` open` : ''}><summary><h2 class="rung">${urgencyMark(0)}${URGENCY[0].title}: ${many(count, 'limb')}</h2></summary>${list}</details>`;
  });
}

function listRow(row, asOf, everyone) {
  const matters = byUrgency(row.signals);
  const stands = matters.length ? standing(matters[0], everyone) : '';
  const since = matters.length ? matters[0].since : row.since;
  const also = [...new Set(matters.slice(1).map((signal) => kindWord(signal.kind)))];
  const about = [since && `since ${day(since)}`, stands, also.length && `also ${also.join(', ')}`].filter(Boolean);
  return html`<li class="row u${row.urgency}" data-limb="${row.limb_id}">
    ${urgencyMark(row.urgency)}
    <div class="person"><a class="name" id="row-${row.limb_id}" href="#/limbs/${row.limb_id}">${row.person.name}</a>
      <div class="about"><span>${limbName(row)}${row.person.age === null ? '' : `, ${row.person.age}`}</span>${chips(row.reading_tags, { short: true, most: CHIPS })}</div></div>
    <div class="why"><p>${row.why}</p><span>${about.join(' · ')}</span></div>
    <div class="socks"><p>${sockWords(row.strip)}</p><span><strong class="state">${STATE[row.state]}</strong>${percent(row)}</span></div>
    ${plyStrip(row.strip)}
    <div class="dates"><span>${visitWords(row.next_visit, asOf)}</span>${row.news_at ? asOfWords(row.assessed_at) : loggedWords(row.silent_days, stands)}</div>
    ${callKeys(row.person, { short: true })}
  </li>`;
}

/** "5+1 ply, was 3": what is worn now, and what was usual four weeks ago where that is something else; with its day,
 *  where it is not of these days. */
export function sockWords(strip) {
  if (!strip?.now) return html`<span class="none">no morning socks known</span>`;
  const was = strip.was && plies(labelled(strip.was), '');
  // first: a long stack is cut at its end
  const on = daysBetween(strip.now_on, strip.until) > LONG_SILENT ? `${day(strip.now_on)}: ` : '';
  return html`${on}<b>${plies(labelled(strip.now), ' ply')}</b>${was && was !== plies(labelled(strip.now), '') ? `, was ${was}` : ''}`;
}

/** A sheath under socks is left to the limb's page. */
const labelled = (socks) => (socks.some(({ ply }) => ply) ? socks.filter(({ ply }) => ply) : socks);

/** The percent stand behind the ply; where they rest on what is not known, that is said. */
function percent({ spark, lacks }) {
  if (!spark.length) return '';
  return html` ${lacks.length ? html`<span class="lacks" title="${lacking(lacks).trim()}">about </span>` : ''}${pct(spark.at(-1).pct)}`;
}

function visitWords(on, asOf) {
  if (!on) return 'no visit';
  const days = daysBetween(asOf, on);
  return `visit ${days < 2 ? ahead(days) : day(on)}`;
}

/** What came since the row was made is still being read. */
const asOfWords = (at) => html`<span title="What came since is still being read.">as of ${shortInstant(at)}</span>`;

/** A silence first; else how the first matter stands; else when the last log came. */
function loggedWords(silent, stands) {
  if (silent === null) return html`<span class="silent">never logged</span>`;
  if (silent > LONG_SILENT) return html`<span class="silent">silent ${many(silent, 'day')}</span>`;
  return html`<span>${stands || `log ${ago(silent)}`}</span>`;
}
