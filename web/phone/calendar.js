/** Daily reminders as an iCalendar file (RFC 5545). Floating local times: eight in the evening wherever one is. */

const plain = (text) => text.replace(/([\\;,])/g, '\\$1').replace(/\n/g, '\\n');

/** Lines of at most 75 bytes; what is longer goes on after a blank (RFC 5545, 3.1). */
export function folded(line) {
  const encoder = new TextEncoder();
  const pieces = [''];
  for (const letter of line) {
    const room = pieces.length === 1 ? 75 : 74;
    if (encoder.encode(pieces.at(-1) + letter).length > room) pieces.push('');
    pieces[pieces.length - 1] += letter;
  }
  return pieces.join('\r\n ');
}

const stampOf = (iso) => new Date(iso).toISOString().replace(/[-:]|\.\d+/g, '');

const calendar = (product, events) =>
  `${['BEGIN:VCALENDAR', 'VERSION:2.0', `PRODID:-//Plytide//${product} 1//EN`, 'CALSCALE:GREGORIAN', ...events, 'END:VCALENDAR'].map(folded).join('\r\n')}\r\n`;

/** Begin and end: instants where the clinic said its zone, else the clock on the wall, else the whole day. */
function timesOf({ on, time, minutes, begins, ends }) {
  const day = on.replaceAll('-', '');
  if (begins) return [`DTSTART:${stampOf(begins)}`, `DTEND:${stampOf(ends)}`];
  return time ? [`DTSTART:${day}T${time.replace(':', '')}00`, `DURATION:PT${minutes ?? 30}M`] : [`DTSTART;VALUE=DATE:${day}`];
}

/** Visits for the phone's own calendar: the same names as before, so that one that was moved is moved there too. */
export function visitFile(visits, { summary, stamp }) {
  return calendar('Visits', visits.flatMap((visit) => [
    'BEGIN:VEVENT', `UID:visit-${visit.id}@plytide.invalid`, `DTSTAMP:${stamp}`, `SEQUENCE:${visit.sequence ?? 0}`, ...timesOf(visit),
    `SUMMARY:${plain(summary(visit))}`, `STATUS:${visit.cancelled ? 'CANCELLED' : 'CONFIRMED'}`, 'CLASS:PRIVATE', 'END:VEVENT',
  ]));
}

/** `stamp`: an instant as "20250915T120000Z"; `from`: the first date; `uid` stays the same for a time of day. */
export function reminderFile(times, { summary, from, stamp, uid }) {
  const day = from.replaceAll('-', '');
  const events = times.map((time) => {
    const clock = `${time.replace(':', '')}00`;
    return [
      'BEGIN:VEVENT', `UID:${uid}-${clock}@plytide.invalid`, `DTSTAMP:${stamp}`, `DTSTART:${day}T${clock}`, 'DURATION:PT5M',
      'RRULE:FREQ=DAILY', `SUMMARY:${plain(summary)}`, 'TRANSP:TRANSPARENT', 'CLASS:PRIVATE',
      'BEGIN:VALARM', 'ACTION:DISPLAY', `DESCRIPTION:${plain(summary)}`, 'TRIGGER:PT0S', 'END:VALARM', 'END:VEVENT',
    ];
  });
  return calendar('Reminders', events.flat());
}
