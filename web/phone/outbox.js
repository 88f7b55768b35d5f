/** What has no receipt yet. An entry leaves only on a receipt that names it; nothing here ever expires. */

import { batchOf } from './rows.js';

/** How many wait for a receipt, how many of those nobody will fetch, and how many the clinic could not take. */
export function counted(rows, accounts) {
  const linked = new Set(accounts.filter((account) => !account.unlinked).map((account) => account.device_id));
  const waiting = rows.filter((row) => row.state === 'waiting');
  const stuck = waiting.filter((row) => !linked.has(row.account)).length;
  return { waiting: waiting.length - stuck, stuck, refused: rows.filter((row) => row.state === 'refused').length };
}

export function outboxOn(diary) {
  /** A look at the next batch; nothing is taken out. */
  const peek = async (account) => batchOf((await diary.waiting()).filter((row) => row.account === account));

  /** All that is unsent, for a file the clinic can read. */
  async function unsent() {
    const all = await diary.everyCheckin();
    return all.filter((row) => row.state === 'waiting' || row.state === 'refused').map((row) => row.checkin);
  }

  return { peek, unsent };
}
