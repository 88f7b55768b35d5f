/** One person's entries as this phone holds them, as a file for a computer and as a page to read or print. Pure. */

import { html } from '../shared/html.js';
import { drawerOf } from './checkin.js';
import { byId, standing } from './rows.js';
import { limbWords, state } from './ui/phrases.js';
import { lineTable } from './ui/line-table.js';
import { entryRows } from './ui/summary.js';
import { limbPicture } from './ui/tide.js';
import { localDate, middayOf } from './when.js';
import { dateWords, directionNow, languageNow, say } from './words.js';

const rowsOf = (person, rows) => person.limbs.map((limb) => [limb, rows[limb.id] ?? []]);

const writerOf = (row) => (row.writer ? { role: row.writer.role ?? null, label: row.writer.label ?? null } : { role: 'this phone', label: null });

/** All that was written, corrections and what was taken back too. Nothing of another person, and no key of the phone's. */
export function fileOf(person, rows, now) {
  return {
    plytide_my_data: 1, made_at: now.toISOString(),
    person: { name: person.name, born_on: person.born_on ?? null },
    limbs: rowsOf(person, rows).map(([limb, list]) => {
      const counts = new Set(standing(list).map((row) => row.id));
      return {
        side: limb.side, level: limb.level,
        entries: [...list].sort(byId).map((row) => {
          const { limb_id: _, written_by: __, proof: ___, ...said } = row.checkin;
          return { ...said, counts: counts.has(row.id), where: row.state, writer: writerOf(row), received_at: row.received_at ?? null };
        }),
      };
    }),
  };
}

/** The page stands alone, so it brings its own look; logical sides serve both writing directions. */
const STYLE = `
  body { font: 1rem/1.4 sans-serif; color: #14222a; background: #fff; max-width: 46rem; margin: 1rem auto; padding: 0 1rem; overflow-wrap: anywhere; }
  h1 { font-size: 1.4rem; margin: 0; }
  h2 { font-size: 1.15rem; border-bottom: 2px solid; padding-block-end: .2rem; }
  section { break-inside: avoid; border-bottom: 1px solid #bbb; padding-block: .5rem; }
  h3 { font-size: 1rem; margin: 0; }
  p { margin: .2rem 0; }
  section p { color: #45545c; font-size: .85rem; }
  dl { margin: .3rem 0 0; }
  dl div { display: grid; grid-template-columns: 9rem 1fr; gap: .6rem; }
  dt { color: #45545c; }
  dd { margin: 0; }
  .block { display: block; }
  figure { margin: 0; max-width: 30rem; }
  figcaption { color: #45545c; font-size: .8rem; }
  path { fill: none; stroke: #14222a; stroke-width: 2; }
  .column { fill: #0a6469; stroke: none; }
  .surface, .gap { stroke: #0a6469; }
  .gap { stroke-dasharray: 3 5; }
  .place { display: none; }
  .buoy { fill: #fff; }
  text { font-size: 11.5px; text-anchor: middle; }
  table { border-collapse: collapse; font-size: .85rem; width: 100%; }
  th, td { text-align: start; border-bottom: 1px solid #bbb; padding: .1rem .4rem .1rem 0; vertical-align: top; }
  th { font-weight: 600; }
  @media print { @page { margin: 14mm; } body { font-size: 9pt; margin: 0; padding: 0; max-width: none; } .days { columns: 2; column-gap: 8mm; } dl div { grid-template-columns: 6rem 1fr; } }
`;

const long = (date) => dateWords(middayOf(date), { weekday: 'long', day: 'numeric', month: 'long', year: 'numeric' });

const whole = (title, on, body) => html`<!doctype html><html lang="${languageNow()}" dir="${directionNow()}"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>${title}</title><style>${STYLE}</style></head>
    <body><h1>${title}</h1><p>${long(on)}</p>${body}</body></html>`.toString();

/** The last four weeks of each limb on one sheet, to bring to a visit: the picture, and a line for each day. */
export function summaryOf(person, rows, now, { visits = [] } = {}) {
  const view = { person, today: localDate(now), visits, rowsOf: Object.fromEntries(rowsOf(person, rows).map(([limb, list]) => [limb.id, standing(list)])) };
  return whole(say('mine.of', { name: person.name }), view.today, person.limbs.map((limb) =>
    html`<h2>${limbWords(limb)}</h2><figure>${limbPicture(view, limb)}<figcaption>${say('story.picture')}</figcaption></figure>${lineTable(view, limb)}`));
}

/** What counts, newest day first, as one page that needs nothing else. */
export function pageOf(person, rows, now, { drawers = {}, unit = 'kg' } = {}) {
  const title = say('mine.of', { name: person.name });
  const limbs = rowsOf(person, rows).map(([limb, list]) => {
    const shown = standing(list);
    const view = { drawer: drawerOf(drawers[limb.id] ?? [], shown), unit };
    return html`<h2>${limbWords(limb)}</h2>${shown.length ? '' : html`<p>${say('home.none')}</p>`}<div class="days">${shown.map((row) => html`<section><h3>${long(row.checkin.date)}</h3>
      <p>${state(row)}${row.writer?.label ? html`. ${say('entry.writer', { who: row.writer.label })}` : ''}</p>${entryRows(row.checkin, view)}</section>`)}</div>`;
  });
  return whole(title, localDate(now), html`<p>${say('more.about_text')}</p>${limbs}`);
}
