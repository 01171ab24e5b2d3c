"""Asks PyPI's icalendar what a calendar of what is due says: each event on a line, as
`day|summary|location|priority`.

    calendars.py FILE
"""

import sys

from icalendar import Calendar


def main(path):
    with open(path, "rb") as file:
        calendar = Calendar.from_ical(file.read())
    if calendar.errors:
        sys.exit(f"not a calendar: {calendar.errors}")
    names = set()
    for event in calendar.walk("VEVENT"):
        if event.errors:
            sys.exit(f"not an event: {event.errors}")
        names.add(str(event["UID"]))
        words = [event["SUMMARY"], event.get("LOCATION", ""), event["PRIORITY"]]
        print("|".join([str(event["DTSTART"].dt)] + [str(word) for word in words]))
    print(f"{len(names)} events")


if __name__ == "__main__":
    main(*sys.argv[1:])
