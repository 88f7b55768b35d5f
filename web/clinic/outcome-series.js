/** What compares: of one kind, and of one distance. */
export function seriesOf(measures) {
  const found = new Map();
  for (const one of measures) {
    const key = `${one.kind} ${one.distance_m ?? ''}`;
    found.set(key, [...(found.get(key) ?? []), one]);
  }
  return [...found.values()];
}
