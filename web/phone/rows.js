/** Check-ins as the phone holds them: a row is the check-in itself plus where it stands. Pure; knows no storage.
 *
 *  state: "waiting" (saved here, no receipt yet), "kept" (receipted, or it came from the server),
 *  "refused" (with `errors`), "mended" (refused, and written again under a new id).
 */

import { FIELDS } from '../shared/checkin-fields.js';

export const BATCH = 50;

/** The check-in of a change that came from the server, as it would be offered again. */
export function fromChange(change, account) {
  const checkin = Object.fromEntries(FIELDS.filter((key) => key in change).map((key) => [key, change[key]]));
  const writer = change.written_by;
  checkin.written_by = writer?.device_id ?? null;
  const known = { seq: change.seq ?? null, received_at: change.received_at, writer, doubt: change.doubt ?? null };
  return { id: change.id, limb_id: change.limb_id, account, state: 'kept', checkin, ...known };
}

export const fresh = (checkin, account) => ({
  id: checkin.id, limb_id: checkin.limb_id, account, state: 'waiting', checkin, seq: null, received_at: null,
});

/** What a row becomes on a receipt that names it; null where it stays as it is. */
export function settled(row, receipt) {
  if (receipt.status === 'kept' || receipt.status === 'already') return { ...row, state: 'kept', errors: undefined };
  if (receipt.status === 'refused') return { ...row, state: 'refused', errors: receipt.errors ?? {}, danger: receipt.danger };
  return null;
}

/** A change from the server put over what is here: an unsent row stays unsent until its own receipt. */
export function merged(row, incoming) {
  if (!row) return incoming;
  return { ...incoming, state: row.state === 'waiting' ? 'waiting' : 'kept' };
}

/** After a restore at the clinic: everything the server may have lost is offered again. */
export const offeredAgain = (row) => (row.state === 'kept' || (row.state === 'refused' && row.danger) ? { ...row, state: 'waiting', again: true } : row);

export const byId = (a, b) => (a.id < b.id ? -1 : Number(a.id > b.id));

/** At most a batch of waiting rows, oldest first, so that a correction never goes before its original. */
export const batchOf = (rows) => rows.filter((row) => row.state === 'waiting').sort(byId).slice(0, BATCH);

const order = (row) => row.seq ?? Number.MAX_SAFE_INTEGER;

const later = (a, b) => order(a) - order(b) || byId(a, b);

/** What holds now: each entry in its last correction, without those taken back; newest day first.
 *  Of two corrections of one entry the later to arrive counts; what this phone has not sent yet counts as last.
 */
export function standing(rows) {
  if (!told.has(rows)) told.set(rows, lastOfEach(rows));
  return told.get(rows);
}

const told = new WeakMap(); // a list of rows is never changed, only replaced, so its answer holds as long as it does

function lastOfEach(rows) {
  const known = new Map(rows.map((row) => [row.id, row]));
  const rootOf = (row, seen = new Set()) => {
    const before = known.get(row.checkin.replaces);
    return !before || seen.has(row.id) ? row.checkin.replaces ?? row.id : rootOf(before, seen.add(row.id));
  };
  const lines = new Map();
  for (const row of rows) {
    if (row.state === 'mended') continue;
    const root = rootOf(row);
    lines.set(root, [...(lines.get(root) ?? []), row]);
  }
  const last = [...lines.values()].map((line) => ({ ...line.sort(later).at(-1), earlier: line.length - 1, line: line.map((row) => row.id) }));
  const moment = (row) => `${row.checkin.date} ${row.checkin.time ?? '00:00'} ${row.id}`;
  return last.filter((row) => !row.checkin.withdrawn).sort((a, b) => (moment(a) < moment(b) ? 1 : -1));
}
