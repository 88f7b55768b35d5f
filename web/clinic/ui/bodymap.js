/** Skin findings of the last weeks on a drawing of the limb, front and back, with the same in words beside it. */

import { html } from '../../shared/html.js';
import { day } from '../when.js';
import { FINDING, many, padName } from '../words.js';
import { isSevere } from './log.js';
import { placeCode, placeWords } from '../../shared/places.js';

const OUTLINES = {
  // Left, seen from the front: the outer side, with the fibular head, is on the right.
  shin: 'M33 2C31 18 30 26 32 38C33 48 29 60 30 78C31 108 38 138 46 158Q60 194 74 158C82 138 87 108 89 80C90 68 90 60 92 54C93 48 89 40 90 30C91 20 89 12 88 2',
  thigh: 'M22 2C18 14 20 28 22 40C24 72 31 128 39 158Q60 196 82 158C92 124 103 72 106 38C108 26 107 14 102 2',
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


/** The landmarks a hand finds, on a left limb seen from its view: bone in a thin line, a drawn name in the caption. */
const LANDMARKS = {
  shin: {
    front: html`<path class="bone" d="M48 14Q60 4 72 14Q74 26 60 32Q46 26 48 14Z"/><path d="M54 33L56 46M66 33L64 46"/><path d="M60 47Q54 54 56 66Q59 110 60 152"/><circle class="bone" cx="84" cy="56" r="5.500"/><path d="M84 62Q80 100 71 140" stroke-dasharray="3 3"/>`,
    back: html`<path d="M40 40Q60 48 80 40"/><path d="M60 58Q47 84 52 116M60 58Q75 84 70 116"/><circle class="bone" cx="84" cy="56" r="5.500"/>`,
  },
  thigh: {
    front: html`<path d="M22 42Q36 30 46 8"/><circle class="bone" cx="98" cy="18" r="6.500"/><path d="M94 26Q72 86 64 152M101 26Q80 92 70 152" stroke-dasharray="3 3"/><path d="M26 46Q36 70 42 96"/>`,
    back: html`<path d="M24 50Q60 66 102 46"/><circle class="bone" cx="98" cy="18" r="6.500"/><path class="bone" d="M46 26Q56 20 62 28Q62 40 52 42Q44 38 46 26Z"/>`,
  },
};
const LANDMARK_WORDS = {
  shin: { front: 'patella and its tendon, tibial crest, fibular head', back: 'popliteal fold, calf, fibular head' },
  thigh: { front: 'groin fold, adductors, greater trochanter, femur', back: 'gluteal fold, greater trochanter, ischial tuberosity' },
};

/** Findings by place: [{ place, words, days: [{ date, finding, minutes }], photos, severe }], those with most days first. */
export function byPlace(lines) {
  const found = new Map();
  for (const line of lines) {
    for (const { place, finding, redness_minutes: minutes } of line.skin) {
      const code = placeCode(place);
      const own = found.get(code) ?? { place: code, words: placeWords(place), days: [], photos: [], severe: false };
      own.days.push({ date: line.date, finding, minutes });
      own.severe ||= isSevere(finding);
      own.photos.push(...photosOf(line, code).filter((id) => !own.photos.includes(id)));
      found.set(code, own);
    }
  }
  return [...found.values()].sort((a, b) => b.severe - a.severe || daysOf(b) - daysOf(a));
}

/** On how many days: two findings of one day are one. */
const daysOf = (own) => new Set(own.days.map(({ date }) => date)).size;

/** Photos that came with a check-in of the day that names this place. */
const photosOf = (line, code) => (line.said ?? []).filter(({ skin }) => skin.some(({ place }) => placeCode(place) === code)).flatMap(({ photos }) => photos ?? []);

export function bodyMap(limb, lines, weeks, pads = []) {
  const found = byPlace(lines);
  const looked = lines.filter((line) => line.looked).length;
  return html`<section class="plot" aria-labelledby="skin-map"><h2 id="skin-map">Skin, last ${weeks} weeks</h2>
    <p class="says">${found.length ? `Found at ${many(found.length, 'place')}; looked at on ${looked} of ${many(lines.length, 'logged day')}.`
      : looked ? `Nothing found on the ${looked === 1 ? 'one day' : `${looked} days`} it was looked at.` : 'Nobody looked at the skin, or nobody said so.'}</p>
    <div class="skin-map">${bothViews(limb, found, { pads, looked: looked > 0 })}
      <ol class="places">${found.map((own) => html`<li><span>${placeMark(own)}<strong>${own.words}</strong></span>
        <span>${grouped(own.days)}</span>${own.photos.length ? html`<span class="photos">${own.photos.slice(-3).map((id, i) => html`<a href="/api/clinic/photos/${id}" target="_blank" rel="noopener"><img src="/api/clinic/photos/${id}" alt="Photo ${i + 1}, ${own.words}" loading="lazy" width="64" height="64"></a>`)}</span>` : ''}</li>`)}
        ${pads.map((pad) => html`<li><span>${padMark}<strong>${padName(pad)}, ${padSize(pad)}</strong></span><span>${pad.place ? placeWords(pad.place) : 'place not said'}, since ${day(pad.on)}</span></li>`)}</ol></div>
    <p><a class="plain" href="#/limbs/${limb.id}/healing">Each place over time: photos, size, healed on</a></p></section>`;
}

export const bothViews = (limb, found, { pads = [], looked = found.length > 0 } = {}) => ['front', 'back'].map((view) => drawing(limb, DRAWN[limb.level] ?? 'shin', view, found, { pads, looked }));

const UNITS_A_MM = 0.7; // the drawn shin is some 70 units wide, a limb some 100 mm
const inside = (mm, usual) => (mm ? Math.max(8, Math.min(mm * UNITS_A_MM, 60)) : usual);

/** A pad as large as it was entered, with its thickness on it; of one size where its size is not known. */
export function padShape(x, y, pad) {
  const [wide, long] = [inside(pad.width_mm, 20), inside(pad.length_mm, 14)];
  return html`<rect x="${(x - wide / 2).toFixed(1)}" y="${(y - long / 2).toFixed(1)}" width="${wide.toFixed(1)}" height="${long.toFixed(1)}" rx="4"/><text x="${x}" y="${y + 3}" text-anchor="middle">${pad.thickness_mm}</text>`;
}

/** "60 × 30 × 4 mm": length, width, thickness; the thickness alone where no more is known. */
export function padSize({ length_mm: length, width_mm: width, thickness_mm: thick }) {
  const known = [length, width, thick].filter((one) => one !== null && one !== undefined).join(' × ');
  return `${known} mm${length && width ? '' : ' thick'}`;
}
const padMark = html`<svg class="pad" viewBox="0 0 20 20" width="20" height="20" aria-hidden="true"><rect x="1" y="4" width="18" height="12" rx="4"/></svg>`;

/** "redness, blister": what was found at a place. */
export const kindsOf = (own) => [...new Set(own.days.map(({ finding }) => FINDING[finding] ?? finding))].join(', ');

const placeMark = (own) => html`<svg class="place ${own.severe ? 'severe' : ''}" viewBox="0 0 20 20" width="20" height="20" aria-hidden="true">${shape(10, 10, own)}</svg>`;

const shape = (x, y, own) => html`${own.severe ? html`<path d="M${x} ${y - 9.500}L${x + 9.500} ${y}L${x} ${y + 9.500}L${x - 9.500} ${y}Z"/>` : html`<circle cx="${x}" cy="${y}" r="8"/>`}<text x="${x}" y="${y + 3.800}" text-anchor="middle">${daysOf(own)}</text>`;

function grouped(days) {
  const kinds = new Map();
  for (const one of days) kinds.set(one.finding, [...(kinds.get(one.finding) ?? []), one]);
  return [...kinds].map(([finding, all]) => html`${FINDING[finding] ?? finding}: ${all.slice(-3).map(({ date, minutes }) => html`<button type="button" class="plain" data-open-day="${date}">${day(date)}${minutes ? `, ${minutes} min` : ''}</button> `)}${
    all.length > 3 ? html`<span class="hint">and ${all.length - 3} before</span> ` : ''}`);
}

function drawing(limb, kind, view, found, { pads, looked }) {
  const here = found.filter((own) => AT[kind][view][own.place]);
  const padded = pads.filter((pad) => AT[kind][view][placeCode(pad.place)]);
  const name = kind === 'foot' ? { front: 'from above', back: 'sole' }[view] : view;
  const turned = (limb.side === 'right') === (view === 'front');
  const mirrored = (x) => (turned ? 120 - x : x);
  const words = [...here.map((own) => `${own.words}, ${many(daysOf(own), 'day')}${own.photos?.length ? `, ${many(own.photos.length, 'photo')}` : ''}`), ...padded.map((pad) => `${padName(pad).toLowerCase()}, ${padSize(pad)}, ${placeWords(pad.place)}`)].join('; ') || (looked ? 'nothing found' : 'not looked at');
  const landmarks = limb.level === 'transtibial' || kind === 'thigh' ? LANDMARKS[kind]?.[view] : null;
  const turn = turned ? html` transform="translate(120 0) scale(-1 1)"` : '';
  return html`<figure><svg viewBox="0 0 120 200" role="img" aria-label="${limb.side} limb, ${name}: ${words}">
    <path class="limb" d="${OUTLINES[kind]}"${turn}/>${landmarks ? html`<g class="landmarks"${turn}>${landmarks}</g>` : ''}
    <path class="rim" d="${kind === 'thigh' ? 'M12 30Q60 40 112 22' : kind === 'shin' ? 'M24 30Q40 26 60 25Q80 26 98 30' : 'M22 34H98'}"${turn}/>
    ${kind === 'foot' || kind === 'hip' ? '' : html`<text class="side" x="0" y="112">${turned ? 'lat' : 'med'}</text><text class="side" x="120" y="112" text-anchor="end">${turned ? 'med' : 'lat'}</text>`}
    ${padded.map((pad) => html`<g class="pad">${padShape(mirrored(AT[kind][view][placeCode(pad.place)][0]), AT[kind][view][placeCode(pad.place)][1], pad)}</g>`)}
    ${here.map((own) => {
      const [x, y] = AT[kind][view][own.place];
      return html`<g class="place ${own.severe ? 'severe' : ''}">${shape(mirrored(x), y, own)}${own.photos?.length ? html`<rect class="photo" x="${mirrored(x) + 7}" y="${y - 12}" width="7" height="7"/>` : ''}</g>`;
    })}</svg><figcaption>${name}${landmarks ? html`<span class="block hint">${LANDMARK_WORDS[kind][view]}</span>` : ''}</figcaption></figure>`;
}
