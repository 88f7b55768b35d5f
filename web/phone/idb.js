/** IndexedDB as promises. A transaction's promise keeps its word: it resolves on `complete`, never before. */

const done = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

const verbs = (store) => ({
  get: (key) => done(store.get(key)),
  all: () => done(store.getAll()), keys: () => done(store.getAllKeys()),
  by: (index, key) => done(store.index(index).getAll(key)),
  put: (value, key) => done(store.put(value, key)),
  delete: (key) => done(store.delete(key)),
});

/** `on.blocked`: another tab holds an old version. `on.replaced`: this tab was asked to let go. */
export function database(name, version, upgrade, on = {}) {
  let handle = null;
  const drop = () => (handle?.then((db) => db.close(), () => {}), (handle = null));
  const open = () =>
    (handle ??= new Promise((resolve, reject) => {
      const request = indexedDB.open(name, version);
      request.onupgradeneeded = (event) => upgrade(request.result, event.oldVersion, request.transaction);
      request.onblocked = () => on.blocked?.();
      request.onerror = () => ((handle = null), reject(request.error));
      request.onsuccess = () => {
        request.result.onversionchange = () => (drop(), on.replaced?.());
        resolve(request.result);
      };
    }));
  async function once(stores, mode, work) {
    const transaction = (await open()).transaction(stores, mode, { durability: 'strict' });
    const ended = new Promise((resolve, reject) => {
      transaction.oncomplete = resolve;
      transaction.onabort = () => reject(transaction.error ?? new DOMException('aborted', 'AbortError'));
    });
    const given = Object.fromEntries(stores.map((store) => [store, verbs(transaction.objectStore(store))]));
    const worked = work(given).catch((error) => { try { transaction.abort(); } catch { /* over already */ } throw error; });
    return (await Promise.all([worked, ended]))[0];
  }
  /** `work` must await nothing but these stores, and must be safe to run twice: a dead handle is replaced once. */
  const during = (stores, mode, work) =>
    once(stores, mode, work).catch((error) => {
      if (!['InvalidStateError', 'UnknownError'].includes(error?.name)) throw error;
      drop();
      return once(stores, mode, work);
    });
  return { during };
}
