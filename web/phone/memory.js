/** The same verbs as idb.js for a phone that keeps nothing (private mode): all is gone when the page is closed. */

export function memory(names, keyOf, indexOf) {
  const tables = new Map(names.map((name) => [name, new Map()]));
  const verbs = (name) => {
    const table = tables.get(name);
    return {
      get: async (key) => structuredClone(table.get(key)),
      keys: async () => [...table.keys()],
      all: async () => structuredClone([...table.values()]),
      by: async (index, key) => structuredClone([...table.values()].filter((row) => indexOf(row, index) === key)),
      put: async (value, key) => void table.set(key ?? value[keyOf[name]], structuredClone(value)),
      delete: async (key) => void table.delete(key),
    };
  };
  const during = (stores, _mode, work) => work(Object.fromEntries(stores.map((name) => [name, verbs(name)])));
  return { during };
}
