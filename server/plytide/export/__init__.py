"""Out of the clinic in forms others read: FHIR, CSV, iCalendar, pages to print."""
