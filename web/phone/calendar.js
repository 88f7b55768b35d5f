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
  const lines = ['BEGIN:VCALENDAR', 'VERSION:2.0', 'PRODID:-//Plytide//Reminders 1//EN', 'CALSCALE:GREGORIAN', ...events.flat(), 'END:VCALENDAR'];
  return `${lines.map(folded).join('\r\n')}\r\n`;
}
