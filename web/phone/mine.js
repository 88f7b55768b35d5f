/** One person's entries as this phone holds them, as a file for a computer and as a page to read or print. Pure. */

import { html } from '../shared/html.js';
import { drawerOf } from './checkin.js';
import { byId, standing } from './rows.js';
import { limbWords, state } from './ui/phrases.js';
import { entryRows } from './ui/summary.js';
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
          const { limb_id: _, written_by: __, ...said } = row.checkin;
          return { ...said, counts: counts.has(row.id), where: row.state, writer: writerOf(row), received_at: row.received_at ?? null };
        }),
      };
    }),
  };
}

/** What counts, newest day first, as one page that needs nothing else. */
export function pageOf(person, rows, now, { drawers = {}, unit = 'kg' } = {}) {
  const title = say('mine.of', { name: person.name });
  const long = (date) => dateWords(middayOf(date), { weekday: 'long', day: 'numeric', month: 'long', year: 'numeric' });
  const limbs = rowsOf(person, rows).map(([limb, list]) => {
    const shown = standing(list);
    const view = { drawer: drawerOf(drawers[limb.id] ?? [], shown), unit };
    return html`<h2>${limbWords(limb)}</h2>${shown.length ? '' : html`<p>${say('home.none')}</p>`}${shown.map((row) => html`<h3>${long(row.checkin.date)}</h3>
      <p>${state(row)}${row.writer?.label ? html`. ${say('entry.writer', { who: row.writer.label })}` : ''}</p>${entryRows(row.checkin, view)}`)}`;
  });
  return html`<!doctype html><html lang="${languageNow()}" dir="${directionNow()}"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width"><title>${title}</title></head>
    <body><h1>${title}</h1><p>${long(localDate(now))}</p>${limbs}</body></html>`.toString();
}
