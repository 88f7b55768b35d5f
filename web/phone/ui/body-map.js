/** Front and back of the residual limb, a zone for each place. The keys below it say the same in words. */

import { html } from '../../shared/html.js';
import { say } from '../words.js';

// Centre of each zone in a 120 × 150 box, front then back, drawn for a left limb seen from the front:
// its outer side is then on the viewer's right. A right limb is the mirror image.
const ZONES = {
  transtibial: {
    front: { brim: [60, 20], kneecap_tendon: [60, 50], outer_bump: [88, 52], inner_side: [34, 82], shin_front: [60, 80], outer_side: [87, 86], shin_end: [60, 108], limb_end: [60, 135] },
    back: { back_of_knee: [60, 44], calf: [60, 86] },
  },
  transfemoral: {
    front: { brim: [64, 18], groin: [30, 22], thigh_front: [60, 66], inner_thigh: [30, 74], outer_thigh: [92, 70], limb_end: [60, 134] },
    back: { sit_bone: [48, 22], back_thigh: [60, 78] },
  },
  knee_disarticulation: {
    front: { brim: [60, 18], thigh_front: [60, 56], inner_thigh: [31, 60], outer_thigh: [89, 60], inner_knee: [31, 112], outer_knee: [89, 112], limb_end: [60, 134] },
    back: { back_thigh: [60, 70] },
  },
  ankle_disarticulation: {
    front: { brim: [60, 18], shin_front: [60, 64], inner_ankle: [32, 108], outer_ankle: [88, 108], limb_end: [60, 134] },
    back: { calf: [60, 58], heel: [60, 128] },
  },
  partial_foot: {
    front: { top_of_foot: [60, 74], inner_ankle: [30, 34], outer_ankle: [90, 34], limb_end: [60, 132] },
    back: { heel: [60, 32], sole: [60, 90] },
  },
  hip_disarticulation: {
    front: { waist: [60, 18], hip_front: [66, 62], groin: [32, 96], limb_end: [66, 124], brim: [98, 40] },
    back: { tailbone: [30, 52], sit_bone: [52, 110] },
  },
};
ZONES.transpelvic = ZONES.hip_disarticulation;

const OUTLINE = {
  thin: 'M30 2 C28 30 32 40 33 60 C34 90 36 120 46 138 C52 147 68 147 74 138 C84 120 86 90 87 60 C88 40 92 30 90 2',
  thick: 'M18 2 C14 40 18 80 26 116 C32 140 46 147 60 147 C74 147 88 140 94 116 C102 80 106 40 102 2',
  even: 'M26 2 C22 40 24 70 20 104 C18 136 40 147 60 147 C80 147 102 136 100 104 C96 70 98 40 94 2',
};

const SHAPE = { transtibial: 'thin', ankle_disarticulation: 'thin', partial_foot: 'even', knee_disarticulation: 'even' };

function zone(name, [x, y], right, at, chosen) {
  const on = at.length > 0 || chosen === name;
  const words = [say(`place.${name}`), ...at.map((one) => say(`finding.${one.finding}`))].join(', ');
  return html`<g role="button" tabindex="0" id="zone-${name}" class="zone" data-do="day.place" data-arg="${name}" aria-pressed="${on ? 'true' : 'false'}" aria-label="${words}">
    <circle cx="${right ? 120 - x : x}" cy="${y}" r="13"/>${at.length ? html`<path class="mark-x" d="M${(right ? 120 - x : x) - 5} ${y - 5}l10 10m0 -10l-10 10"/>` : ''}</g>`;
}

function side(name, zones, view, draft, mirrored) {
  const outline = OUTLINE[SHAPE[view.limb.level] ?? 'thick'];
  const at = (place) => draft.findings.filter((one) => one.place === place);
  return html`<figure><svg viewBox="0 0 120 152" role="group" aria-label="${say(`map.${name}`)}">
    <path class="limb" d="${outline}"/>
    ${Object.entries(zones).map(([place, where]) => zone(place, where, mirrored, at(place), draft.place))}
  </svg><figcaption class="small">${say(`map.${name}`)}</figcaption></figure>`;
}

export function bodyMap(view, draft) {
  const zones = ZONES[view.limb.level] ?? ZONES.transtibial;
  const right = view.limb.side === 'right';
  return html`<div class="map">${side('front', zones.front, view, draft, right)}${side('back', zones.back, view, draft, !right)}</div>`;
}

/** Before anything is said: the limb all round, as it is to be looked at. A picture alone. */
export const bothSides = (view) => html`<svg class="all-round" viewBox="0 0 280 152" aria-hidden="true"><path class="limb" d="${OUTLINE[SHAPE[view.limb.level] ?? 'thick']}"/>
  <path class="limb" transform="translate(280 0) scale(-1 1)" d="${OUTLINE[SHAPE[view.limb.level] ?? 'thick']}"/><path class="round" d="M124 66q16 -12 32 0m-8 -6 8 6 -9 3M156 90q-16 12 -32 0m8 6 -8 -6 9 -3"/></svg>`;
