/** Entries that were begun and not saved: one for each time of beginning, and one for each entry being corrected. Pure. */

import { localDate } from './when.js';

const STEM = 'draft:';

export const isFix = (draft) => Boolean(draft.replaces || draft.mends);

/** Where a draft is kept. An early version kept one a limb, under the limb alone. */
export const keyOf = (draft) =>
  `${STEM}${draft.limb_id}:${isFix(draft) ? `of:${draft.mends ?? draft.replaces}` : `new:${draft.opened_at ?? draft.date}`}`;

export const isDraftKey = (key) => String(key).startsWith(STEM);

const newest = (a, b) => ((a.opened_at ?? a.date) < (b.opened_at ?? b.date) ? 1 : -1);

const ofLimb = (drafts, limb) => drafts.filter((draft) => draft.limb_id === limb).sort(newest);

/** The one "Log today" goes on with. */
export const todays = (drafts, limb, today) => ofLimb(drafts, limb).find((draft) => !isFix(draft) && draft.date === today) ?? null;

/** All others: of another day, corrections, or a second one of today. */
export const others = (drafts, limb, today) => ofLimb(drafts, limb).filter((draft) => draft !== todays(drafts, limb, today));

export const fixOf = (drafts, id) => drafts.find((draft) => isFix(draft) && (draft.mends ?? draft.replaces) === id) ?? null;

/** A day has turned since the wearer last saw which day this is for: neither day may be taken for granted. */
export const mustAskDay = (draft, now) => !isFix(draft) && draft.date !== localDate(now) && draft.day_said_on !== localDate(now);
