/** Tape measurements: volume from truncated cones, the tape's own error, and whether two can be compared. Pure.
 *
 *  V = Σ h (C1² + C1 C2 + C2²) / 12π, as in core/limb_volume.py, which keeps the figure of record.
 */

/** Hand and digital dimensions differ by about 5 mm (Geil 2007, J Rehabil Res Dev 44(4):515). */
const TAPE_ERROR_MM = 5;
/** What two tapes of one leg differ by without any change, as a share of its circumference (reproducibility index, te
 *  Slaa
 *  2011, Phlebology 26(1):14): measured by one person, by several. As in core/limb_volume.py. */
const ONE_HAND = 0.033;
const TWO_HANDS = 0.044;
/** Heights closer than this are the same level. */
const SAME_MM = 1;

const ordered = (levels) => [...levels].sort((a, b) => a.from_end_mm - b.from_end_mm);

function frusta(levels) {
  return ordered(levels).reduce((sum, level, i, all) => {
    if (!i) return 0;
    const [below, above] = [all[i - 1].circumference_mm, level.circumference_mm];
    return sum + ((level.from_end_mm - all[i - 1].from_end_mm) * (below * below + below * above +
      above * above)) / (12 * Math.PI);
  }, 0);
}

/** { ml, error_ml } or null for fewer than two levels. The error moves every circumference the same way. */
export function volume(levels) {
  if (levels.length < 2) return null;
  const moved = (by) =>
    frusta(levels.map((level) => ({ ...level, circumference_mm: Math.max(0, level.circumference_mm + by) }))) / 1000;
  return { ml: moved(0), error_ml: (moved(TAPE_ERROR_MM) - moved(-TAPE_ERROR_MM)) / 2 };
}

/** Whether both were taken at the same heights. Other heights give another volume of the same limb. */
export function comparable(one, other) {
  const spacing = (levels) => ordered(levels).map((level, _, all) => level.from_end_mm - all[0].from_end_mm);
  const [a, b] = [spacing(one), spacing(other)];
  return a.length > 1 && a.length === b.length && a.every((height, i) => Math.abs(height - b[i]) <= SAME_MM);
}

/** Whether both were measured by the same named person. */
export function oneHand(one, other) {
  const [a, b] = [one, other].map((name) => (name ?? '').trim().toLowerCase());
  return a !== '' && a === b;
}

/** Up to how many percent of the volume two measurements at the same heights differ without any change. */
export const limitPct = (sameHand) => 100 * (1 - (1 - (sameHand ? ONE_HAND : TWO_HANDS)) ** 2);

/** Whether two volumes at the same heights differ by more than the hands that measured: a share, of a large limb and
 *  a small one. */
export const beyondTape = (before, after, sameHand) =>
  Math.abs(Math.sqrt(after / before) - 1) > (sameHand ? ONE_HAND : TWO_HANDS);

/** The level of `levels` at this height, if there is one. */
export const atHeight = (levels, height) =>
  levels.find((level) => Math.abs(level.from_end_mm - height) <= SAME_MM) ?? null;

/** Levels that fit neither the last time nor their neighbours, each with why. */
export function slips(levels, before) {
  const all = ordered(levels);
  return all.flatMap((level, i) => {
    const last = before && atHeight(before, level.from_end_mm);
    if (last && Math.abs(level.circumference_mm / last.circumference_mm - 1) > 0.12) {
      return [`${level.circumference_mm} mm at ${level.from_end_mm} mm from the end was ${last.circumference_mm} mm last time.`];
    }
    const beside = [all[i - 1], all[i + 1]].filter(Boolean);
    if (beside.length === 2) {
      const between = (beside[0].circumference_mm + beside[1].circumference_mm) / 2;
      if (Math.abs(level.circumference_mm / between - 1) > 0.2) {
        return [`${level.circumference_mm} mm at ${level.from_end_mm} mm from the end stands out from its neighbours.`];
      }
    }
    return [];
  });
}
