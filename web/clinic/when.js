/** Dates in words. A date is a calendar day "YYYY-MM-DD" and never passes through a time zone. */

import { many } from './words.js';

const DAY = new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'short', timeZone: 'UTC' });
const DAY_YEAR = new Intl.DateTimeFormat('en-GB', { day: 'numeric', month: 'short', year: 'numeric', timeZone: 'UTC' });
const WEEKDAY = new Intl.DateTimeFormat('en-GB', { weekday: 'short', day: 'numeric', month: 'short', timeZone: 'UTC' });
const TIME = new Intl.DateTimeFormat('en-GB', { timeStyle: 'short' });
const MOMENT = new Intl.DateTimeFormat('en-GB', { dateStyle: 'medium', timeStyle: 'short' });

/** A moment in words; what is no moment (an older version kept whatever a phone said) as it was written. */
const inWords = (format, moment, said) => (Number.isNaN(moment.getTime()) ? String(said ?? '') : format.format(moment));
const calendarDay = (format, date) => inWords(format, new Date(`${date}T00:00:00Z`), date);

/** Days since 1970 of a calendar day. */
export function dayNumber(date) {
  return Math.round(Date.parse(`${date}T00:00:00Z`) / 86400000);
}

export function fromNumber(number) {
  return new Date(number * 86400000).toISOString().slice(0, 10);
}

export const later = (date, days) => fromNumber(dayNumber(date) + days);
export const daysBetween = (from, to) => dayNumber(to) - dayNumber(from);

/** The calendar day here and now. */
export function today() {
  const now = new Date();
  return fromNumber(Math.round(Date.UTC(now.getFullYear(), now.getMonth(), now.getDate()) / 86400000));
}

/** "3 Nov", with the year where it is not this one's. */
export function day(date, year = today().slice(0, 4)) {
  if (!date) return '';
  return calendarDay(String(date).startsWith(year) ? DAY : DAY_YEAR, date);
}

export const weekday = (date) => calendarDay(WEEKDAY, date);
export const fullDay = (date) => calendarDay(DAY_YEAR, date);
const atOf = (iso) => new Date(/Z|[+-]\d\d:\d\d$/.test(iso) ? iso : `${iso}Z`);
/** An instant of the server in this computer's own time. */
export const instant = (iso) => inWords(MOMENT, atOf(iso), iso);
/** "14:32", with its day where that is not today. Of none, "an earlier day". */
export function shortInstant(iso) {
  if (!iso) return 'an earlier day';
  return inWords(atOf(iso).toDateString() === new Date().toDateString() ? TIME : MOMENT, atOf(iso), iso);
}

export function ago(days) {
  if (days === null || days === undefined) return 'never';
  if (days <= 0) return 'today';
  if (days === 1) return 'yesterday';
  return days < 60 ? `${many(days, 'day')} ago` : `${many(Math.round(days / 30.4), 'month')} ago`;
}

export function ahead(days) {
  if (days === 0) return 'today';
  if (days === 1) return 'tomorrow';
  return days < 0 ? ago(-days) : `in ${many(days, 'day')}`;
}

/** Whole years lived on a day. */
export function age(bornOn, date) {
  return Number(date.slice(0, 4)) - Number(bornOn.slice(0, 4)) - (date.slice(5) < bornOn.slice(5) ? 1 : 0);
}
