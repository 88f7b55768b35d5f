/** Lengths and weights as people write them, to mm and kg. Nothing is guessed: what can't be read is null. */

const PER = { mm: 1, cm: 10, in: 25.4, kg: 1, lb: 0.45359237 };
const WRITTEN = { '"': 'in', '″': 'in', inch: 'in', inches: 'in', lbs: 'lb', pound: 'lb', pounds: 'lb', kgs: 'kg' };

export const UNITS = { length: ['mm', 'cm', 'in'], thickness: ['mm', 'in'], weight: ['kg', 'lb'] };

/** "11 3/4 in", "29,8" or "298 mm" → { value in mm or kg, unit }, or null. A unit written beside the figure wins. */
export function parse(text, unit) {
  const found = /^\s*(\d+(?:[.,]\d+)?)?\s*(?:(\d+)\s*\/\s*(\d+))?\s*([a-z"″]+)?\s*$/i.exec(text);
  if (!found || (found[1] === undefined && found[2] === undefined)) return null;
  const written = found[4]?.toLowerCase();
  const used = written ? WRITTEN[written] ?? written : unit;
  if (!(used in PER) || (PER[used] < 1 || used === 'kg') !== (unit === 'kg' || unit === 'lb')) return null;
  const whole = found[1] === undefined ? 0 : Number(found[1].replace(',', '.'));
  const part = found[2] === undefined ? 0 : Number(found[2]) / Number(found[3]);
  if (!Number.isFinite(whole + part)) return null;
  return { value: (whole + part) * PER[used], unit: used };
}

/** A length in mm or a weight in kg as text in `unit`: mm whole or to a tenth, the others to a tenth. */
export function shown(value, unit) {
  if (value === null || value === undefined) return '';
  return String(Math.round((value / PER[unit]) * 10) / 10);
}

const KEPT = 'plytide.unit.';

export const chosen = (kind) => {
  const kept = localStorage.getItem(KEPT + kind);
  return UNITS[kind].includes(kept) ? kept : UNITS[kind][0];
};

export const choose = (kind, unit) => localStorage.setItem(KEPT + kind, unit);
