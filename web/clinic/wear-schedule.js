/** Hours a day as they are written in one field, “2, 4, 6”, ↔ the days of a wear schedule. */

export const scheduleText = (schedule) => (schedule ? schedule.map(({ hours }) => hours).join(', ') : null);

export function scheduleOf(text) {
  if (!text) return null;
  return text.split(/[\s,;]+/).filter(Boolean).map((hours, i) => {
    if (!/^\d+([.]\d+)?$/.test(hours) || Number(hours) > 24) {
      throw Object.assign(new Error('Some fields need another look.'), { fields: { wear_schedule: [`“${hours}” is not a number of hours.`] } });
    }
    return { day: i + 1, hours: Number(hours) };
  });
}
