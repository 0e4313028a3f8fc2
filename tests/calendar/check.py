"""What two other readers of iCalendar find in a day's calendar is what the day says."""

import datetime
import json
import sys

import icalendar
import vobject


def main(calendar: str, day: str) -> None:
    raw = open(calendar, "rb").read()
    told = json.load(open(day, encoding="utf-8"))
    date = datetime.date.fromisoformat(told["date"])

    def at(clock: str) -> datetime.datetime:
        return datetime.datetime.combine(date, datetime.time.fromisoformat(clock))

    expected = sorted((at(v["begins"]), at(v["ends"]), f"{v['name']}: {v['title']}") for v in told["visits"])
    assert len(expected) == 5, expected

    # RFC 5545, 3.1: CRLF, and at most 75 octets a line.
    assert raw.endswith(b"\r\n") and b"\n" not in raw.replace(b"\r\n", b"")
    assert max(map(len, raw.split(b"\r\n"))) <= 75

    first = icalendar.Calendar.from_ical(raw)
    assert not first.errors, first.errors
    events = first.walk("VEVENT")
    assert all(not e.errors for e in events)
    assert sorted((e.decoded("dtstart"), e.decoded("dtend"), str(e["summary"])) for e in events) == expected
    # Floating times, a stamp in UTC, an id each.
    assert all(e.decoded("dtstart").tzinfo is None for e in events)
    assert all(e.decoded("dtstamp").utcoffset() == datetime.timedelta(0) for e in events)
    assert len({str(e["uid"]) for e in events}) == len(events)

    second = vobject.readOne(raw.decode("utf-8"))
    second.validate(raiseException=True)
    events = second.vevent_list
    assert sorted((e.dtstart.value, e.dtend.value, e.summary.value) for e in events) == expected
    print(f"{len(events)} entries are alike for icalendar, vobject and the day")


if __name__ == "__main__":
    main(*sys.argv[1:])
