/** One check-in while it is being written: a draft, and what it becomes. Pure; knows no page and no storage. */

import { localDate, localTime, momentAt, offsetText, zoneName } from './when.js';

export const STEPS = ['socks', 'fit', 'comfort', 'skin', 'review'];
export const MOST_SOCKS = 12;

export function newDraft(limb_id, now) {
  return {
    limb_id, date: localDate(now), moment: momentAt(now), step: 'socks', opened_at: now.toISOString(),
    stack: [], bare: false, prefilled: false, fit: null, signs: [], comfort: null, skin: null, findings: [],
    pain: null, hours_worn: null, activity: null, falls: null, weight_kg: null, tags: [], note: '',
    replaces: null, mends: null, photos: [], touched: false,
  };
}

/** A draft to correct an entry with: it starts as the entry was. */
export function draftOf(row, now) {
  const said = row.checkin;
  const found = said.skin ?? [];
  const refused = row.state === 'refused';
  return {
    ...newDraft(said.limb_id, now),
    date: said.date, moment: said.moment ?? 'putting_on', time: said.time ?? null, offset: said.offset ?? null, zone: said.zone ?? null,
    step: 'review', stack: said.stack, bare: !said.stack.length, prefilled: said.prefilled ?? false,
    fit: said.fit ?? null, signs: said.signs ?? [], comfort: said.comfort,
    skin: found.length || said.signs?.some((sign) => EMERGENCY.includes(sign)) ? 'found' : said.skin_checked ? 'fine' : 'not_looked',
    findings: found, pain: said.pain ?? null, hours_worn: said.hours_worn ?? null,
    activity: said.activity ?? null, falls: said.falls ?? null, weight_kg: said.weight_kg ?? null,
    tags: said.tags ?? [], note: said.note ?? '', photos: said.photos ?? [],
    // What was refused was never kept, so there is nothing there to replace but what it wanted to replace.
    replaces: refused ? said.replaces ?? null : row.id, mends: refused ? row.id : null,
  };
}

export const FIT_SIGNS = ['slips_up_and_down', 'sinks_to_bottom', 'cannot_get_fully_in', 'fewer_clicks', 'more_clicks'];
export const CHILD_SIGNS = ['bony_point', 'stretched_skin'];
export const SKIN_SIGNS = ['severe_pain', 'sock_stuck'];
export const EMERGENCY = ['fever_or_shivering', 'fast_spreading_redness', 'cold_pale_limb', 'confusion'];

/** The steps that still need an answer: only socks and comfort must have one. */
export function missing(draft) {
  const gaps = [];
  if (!draft.stack.length && !draft.bare) gaps.push('socks');
  if (draft.comfort === null) gaps.push('comfort');
  return gaps;
}

/** The check-in itself. `id` was made on the phone; time and offset are the wearer's clock. */
export function checkinOf(draft, { id, now, device_id }) {
  const today = localDate(now) === draft.date;
  const looked = draft.skin === 'fine' || draft.skin === 'found';
  return {
    id, limb_id: draft.limb_id, date: draft.date,
    time: draft.time ?? (today ? localTime(now) : null), offset: draft.offset ?? offsetText(now), zone: draft.zone ?? zoneName(),
    moment: draft.moment, stack: draft.stack.map(({ ply, make }) => ({ ply, make })),
    fit: draft.fit, signs: draft.signs, comfort: draft.comfort, pain: draft.pain,
    skin: draft.skin === 'found' ? draft.findings : [], skin_checked: looked,
    hours_worn: draft.hours_worn, activity: draft.activity, falls: draft.falls, weight_kg: draft.weight_kg,
    tags: draft.tags, note: draft.note.trim() || null, prefilled: draft.prefilled,
    replaces: draft.replaces, withdrawn: false, written_at: now.toISOString(), written_by: device_id,
    photos: draft.photos,
  };
}

/** The correction that takes an entry back: the same words, marked as withdrawn. */
export function withdrawalOf(row, { id, now, device_id }) {
  return { ...row.checkin, id, replaces: row.id, withdrawn: true, written_at: now.toISOString(), written_by: device_id };
}

const sameSock = (a, b) => a.ply === b.ply && a.make === b.make;

/** The socks a wearer owns: those set up by hand first, then any met in the log, most used first. */
export function drawerOf(own, rows) {
  const met = new Map();
  for (const row of rows) {
    for (const sock of row.checkin.stack) {
      const key = `${sock.ply} ${sock.make}`;
      met.set(key, { ply: sock.ply, make: sock.make ?? 'unknown', times: (met.get(key)?.times ?? 0) + 1 });
    }
  }
  const often = [...met.values()].sort((a, b) => b.times - a.times || a.ply - b.ply);
  return [...own, ...often.filter((sock) => !own.some((one) => sameSock(one, sock))).map(({ ply, make }) => ({ ply, make }))].slice(0, 8);
}

/** The latest stack said for this limb, for "the same socks again". */
export function lastStack(standing, before) {
  return standing.find((row) => row.checkin.date <= before && row.state !== 'refused') ?? null;
}

export function tapFinding(draft, place, finding) {
  const there = draft.findings.some((one) => one.place === place && one.finding === finding);
  const findings = there
    ? draft.findings.filter((one) => one.place !== place || one.finding !== finding)
    : [...draft.findings, { place, finding, redness_minutes: null }];
  return { ...draft, findings };
}

export const toggled = (list, item) => (list.includes(item) ? list.filter((one) => one !== item) : [...list, item]);
