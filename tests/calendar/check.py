"""What two other readers of iCalendar find in a day's calendar is what the day says."""

import datetime
import json
import sys

import icalendar
import vobject


def main(calendar: str, day: str, fits: str) -> None:
    raw = open(calendar, "rb").read()
    told = json.load(open(day, encoding="utf-8"))
    date = datetime.date.fromisoformat(told["date"])

    def at(clock: str) -> datetime.datetime:
        return datetime.datetime.combine(date, datetime.time.fromisoformat(clock))

    visits = [(at(v["begins"]), at(v["ends"]), f"{v['name']}: {v['title']}") for v in told["visits"]]
    breaks = [(at(b["begins"]), at(b["ends"]), "Break") for b in told["breaks"]]
    # RFC 5545, 3.6.1: a date without a time is a whole day; it ends before the day that DTEND names.
    tomorrow = date + datetime.timedelta(days=1)
    left = [(date, tomorrow, f"No time for {n['dog']} ({n['takes']})") for n in told["no-room"]]
    left += [(date, tomorrow, f"No sheet for {n}") for n in told.get("no-sheet", [])]
    assert len(visits) + len(left) == 5 and visits, (visits, left)
    # A day that ends at noon has no break.
    assert breaks or fits == "short", breaks
    assert bool(left) == (fits == "short"), left

    def order(entry: tuple) -> tuple:
        begins, ends, summary = entry
        return str(begins), str(ends), summary

    expected = sorted(visits + breaks + left, key=order)

    # RFC 5545, 3.1: CRLF, and at most 75 octets a line.
    assert raw.endswith(b"\r\n") and b"\n" not in raw.replace(b"\r\n", b"")
    assert max(map(len, raw.split(b"\r\n"))) <= 75

    first = icalendar.Calendar.from_ical(raw)
    assert not first.errors, first.errors
    events = first.walk("VEVENT")
    assert all(not e.errors for e in events)
    found = ((e.decoded("dtstart"), e.decoded("dtend"), str(e["summary"])) for e in events)
    assert sorted(found, key=order) == expected
    # Floating times, a stamp in UTC, an id each.
    timed = [e.decoded("dtstart") for e in events if isinstance(e.decoded("dtstart"), datetime.datetime)]
    assert len(timed) == len(visits) + len(breaks) and all(t.tzinfo is None for t in timed)
    assert all(e.decoded("dtstamp").utcoffset() == datetime.timedelta(0) for e in events)
    assert len({str(e["uid"]) for e in events}) == len(events)

    second = vobject.readOne(raw.decode("utf-8"))
    second.validate(raiseException=True)
    events = second.vevent_list
    assert sorted(((e.dtstart.value, e.dtend.value, e.summary.value) for e in events), key=order) == expected
    print(f"{len(events)} entries are alike for icalendar, vobject and the day")


if __name__ == "__main__":
    main(*sys.argv[1:])
