/** Skin findings of the last weeks on a drawing of the limb, front and back, with the same in words beside it. */

import { html } from '../../shared/html.js';
import { day } from '../when.js';
import { FINDING } from '../words.js';
import { isSevere } from './log.js';
import { PLACE_WORDS } from '/shared/places.js';

const OUTLINES = {
  shin: 'M32 8C29 60 35 118 44 156Q60 196 76 156C85 118 91 60 88 8',
  thigh: 'M18 8C20 66 29 128 38 158Q60 196 82 158C91 128 100 66 102 8',
  foot: 'M40 8 38 58Q22 100 28 140Q60 192 92 140Q98 100 82 58L80 8',
  hip: 'M14 12Q8 92 30 140Q60 192 90 140Q112 92 106 12',
};
const DRAWN = {
  partial_foot: 'foot', ankle_disarticulation: 'shin', transtibial: 'shin', knee_disarticulation: 'thigh', transfemoral: 'thigh',
  hip_disarticulation: 'hip', transpelvic: 'hip',
};

/** Where a place lies on a left limb seen from its view; a right limb is mirrored. */
const AT = {
  shin: {
    front: { brim: [60, 28], kneecap_tendon: [60, 54], outer_bump: [80, 66], inner_side: [43, 104], shin_front: [60, 104], outer_side: [77, 104], inner_ankle: [47, 150], outer_ankle: [73, 150], shin_end: [60, 148], limb_end: [60, 172] },
    back: { back_of_knee: [60, 44], calf: [60, 104], heel: [60, 160] },
  },
  thigh: {
    front: { brim: [62, 28], groin: [32, 34], inner_thigh: [38, 96], thigh_front: [60, 96], outer_thigh: [82, 96], inner_knee: [46, 152], outer_knee: [74, 152], limb_end: [60, 172] },
    back: { sit_bone: [54, 34], back_thigh: [60, 96] },
  },
  foot: { front: { top_of_foot: [60, 96], inner_ankle: [42, 46], outer_ankle: [78, 46], limb_end: [60, 164] }, back: { heel: [60, 44], sole: [60, 108] } },
  hip: { front: { waist: [60, 24], brim: [60, 50], hip_front: [60, 84], groin: [34, 112], limb_end: [60, 158] }, back: { tailbone: [36, 64], sit_bone: [58, 116] } },
};

const CODES = Object.fromEntries(Object.entries(PLACE_WORDS).map(([code, words]) => [words, code]));

/** Findings by place: [{ place, words, days: [{ date, finding, minutes }], severe }], those with most days first. */
export function byPlace(lines) {
  const found = new Map();
  for (const line of lines) {
    for (const { place, finding, redness_minutes: minutes } of line.skin) {
      const code = place in PLACE_WORDS ? place : CODES[place] ?? place;
      const own = found.get(code) ?? { place: code, words: PLACE_WORDS[code] ?? place, days: [], severe: false };
      own.days.push({ date: line.date, finding, minutes });
      own.severe ||= isSevere(finding);
      found.set(code, own);
    }
  }
  return [...found.values()].sort((a, b) => b.severe - a.severe || b.days.length - a.days.length);
}

export function bodyMap(limb, lines, weeks) {
  const found = byPlace(lines);
  const looked = lines.filter((line) => line.looked).length;
  return html`<section class="plot" aria-labelledby="skin-map"><h2 id="skin-map">Skin, last ${weeks} weeks</h2>
    <p class="says">${found.length ? `Found at ${found.length === 1 ? 'one place' : `${found.length} places`}; looked at on ${looked} of ${lines.length} logged days.`
      : looked ? `Nothing found on the ${looked} days it was looked at.` : 'Nobody looked at the skin, or nobody said so.'}</p>
    <div class="skin-map">${bothViews(limb, found)}
      <ol class="places">${found.map((own) => html`<li><span>${placeMark(own)}<strong>${own.words}</strong></span>
        <span>${grouped(own.days)}</span></li>`)}</ol></div></section>`;
}

export const bothViews = (limb, found) => ['front', 'back'].map((view) => drawing(limb, DRAWN[limb.level] ?? 'shin', view, found));

/** "redness, blister": what was found at a place. */
export const kindsOf = (own) => [...new Set(own.days.map(({ finding }) => FINDING[finding] ?? finding))].join(', ');

const placeMark = (own) => html`<svg class="place ${own.severe ? 'severe' : ''}" viewBox="0 0 20 20" width="20" height="20" aria-hidden="true">${shape(10, 10, own)}</svg>`;

const shape = (x, y, own) => html`${own.severe ? html`<path d="M${x} ${y - 9.500}L${x + 9.500} ${y}L${x} ${y + 9.500}L${x - 9.500} ${y}Z"/>` : html`<circle cx="${x}" cy="${y}" r="8"/>`}<text x="${x}" y="${y + 3.800}" text-anchor="middle">${own.days.length}</text>`;

function grouped(days) {
  const kinds = new Map();
  for (const one of days) kinds.set(one.finding, [...(kinds.get(one.finding) ?? []), one]);
  return [...kinds].map(([finding, all]) => html`${FINDING[finding] ?? finding}: ${all.slice(-3).map(({ date, minutes }) => html`<button type="button" class="plain" data-open-day="${date}">${day(date)}${minutes ? `, ${minutes} min` : ''}</button> `)}${
    all.length > 3 ? html`<span class="hint">and ${all.length - 3} before</span> ` : ''}`);
}

function drawing(limb, kind, view, found) {
  const here = found.filter((own) => AT[kind][view][own.place]);
  const name = kind === 'foot' ? { front: 'from above', back: 'sole' }[view] : view;
  const mirrored = (x) => ((limb.side === 'right') === (view === 'front') ? 120 - x : x);
  const words = here.length ? here.map((own) => `${own.words}, ${own.days.length} days`).join('; ') : 'nothing found';
  return html`<figure><svg viewBox="0 0 120 200" role="img" aria-label="${limb.side} limb, ${name}: ${words}">
    <path class="limb" d="${OUTLINES[kind]}"/><path class="rim" d="M22 34H98"/>
    ${here.map((own) => {
      const [x, y] = AT[kind][view][own.place];
      return html`<g class="place ${own.severe ? 'severe' : ''}">${shape(mirrored(x), y, own)}</g>`;
    })}</svg><figcaption>${name}</figcaption></figure>`;
}
