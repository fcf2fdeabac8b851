"""Reading a hall's folder: the demo hall, what is accepted, and what is said of each thing that is wrong."""
from __future__ import annotations

import re
from datetime import date, time

import pytest

from bot.people.hall import Hall, HallErrors, read_hall

SCHEME = """\
[scheme]
name = "Test Lights"
[[award]]
id = "spark"
name = "Spark"
  [[award.skill]]
  id = "tuck"
  name = "Tuck hold"
  [[award.skill]]
  id = "hop"
  name = "Hop on"
"""
CLUB = """\
name = "Møllegade Hall"
timezone = "Europe/Copenhagen"

[[class]]
id = "mon"
name = "Monday"
day = "Monday"
start = "17:00"
minutes = 60
coach = "bo"
assistant = ["sam"]

[[person]]
id = "bo"
name = "Bo Lind"
role = "coach"

[[person]]
id = "sam"
name = "Sam Dahl"
role = "assistant"

[[closed]]
from = 2027-02-15
to = 2027-02-19
"""
ROSTER = "child,class,award,has\nÅse Holm,mon,spark,tuck\n李明,mon,spark,\n"


def hall(club: str = CLUB, roster: str = ROSTER) -> Hall:
    """The hall of these texts."""
    return read_hall(SCHEME, club, roster)


def faults(club: str = CLUB, roster: str = ROSTER, scheme: str = SCHEME) -> str:
    """What is said of these texts, all of it."""
    with pytest.raises(HallErrors) as caught:
        read_hall(scheme, club, roster)
    return str(caught.value)


def test_a_hall_is_what_its_texts_say() -> None:
    """Club, people and children come out as they were written."""
    read = hall()
    assert (read.club.id, read.club.name) == ("mollegade-hall", "Møllegade Hall")
    assert read.club.classes[0].people == ("bo", "sam")
    assert read.club.is_closed(date(2027, 2, 19))
    assert not read.club.is_closed(date(2027, 2, 20))
    assert [(child.child, child.has) for child in read.roster] == [("Åse Holm", ("tuck",)), ("李明", ())]


def test_little_is_needed() -> None:
    """A name, a class with its day and time, and its people make a club."""
    read = hall('name = "X"\n[[class]]\nid = "mon"\nday = "mon"\nstart = "9:30"\n')
    one = read.club.classes[0]
    assert (read.club.timezone, read.club.quiet) == ("Europe/London", (time(20), time(8)))
    assert (one.name, one.minutes, one.start, one.people) == ("Mon", 60, time(9, 30), ())


def test_a_club_may_have_an_id_and_a_header_of_its_own() -> None:
    """`id` wins over the name, and a [club] around the keys does no harm."""
    assert hall('[club]\nid = "hl"\n' + CLUB).club.id == "hl"


@pytest.mark.parametrize("day", ["Tue", "TUESDAY", "tues", " tuesdays "])
def test_days_may_be_short_or_long(day: str) -> None:
    """A day is known by its beginning, in any case."""
    assert hall(CLUB.replace('"Monday"\nstart', f'"{day}"\nstart')).club.classes[0].day == "tuesday"


@pytest.mark.parametrize("start", ['"17:00"', '"17.00"', "17:00:00", '" 17:00 "', '"17:00:00"'])
def test_times_may_be_written_in_several_ways(start: str) -> None:
    """A time with a point, or TOML's own, is as good."""
    assert hall(CLUB.replace('"17:00"', start)).club.classes[0].start == time(17)


def test_a_helper_written_down_as_an_assistant_helps_only() -> None:
    """The person's role is the smaller right, and it holds."""
    one = hall(CLUB.replace('"assistant"', '"Helper"')).club.classes[0]
    assert (one.assistant, one.helper) == ((), ("sam",))


def test_one_day_may_be_closed() -> None:
    """A closed day needs no `to`, and dates may be quoted."""
    assert hall(CLUB + '[[closed]]\nfrom = "2026-12-24"').club.is_closed(date(2026, 12, 24))


@pytest.mark.parametrize("roster", [
    "\ufeffchild,class,award,has\r\nÅse Holm,mon,spark,tuck;hop\r\n",
    "has,award,class,child\ntuck; hop ,Spark,Monday,Åse  Holm\n\n,,,\n",
    'CHILD;Class;award;has\nÅse Holm;mon;SPARK;"tuck;hop"\n',
    'id,child,class,award,has\n,"Åse Holm",mon,spark,Tuck hold;hop',
])
def test_lists_come_as_spreadsheets_write_them(roster: str) -> None:
    """Columns in any order, names for ids, marks at the start, empty lines: the same child."""
    child = hall(roster=roster).roster[0]
    assert (child.child, child.class_id, child.award, child.has, child.id) == (
        "Åse Holm", "mon", "spark", ("tuck", "hop"), None,
    )


def test_no_children_yet_is_fine() -> None:
    """A list that is empty, or has its header only, loads."""
    assert hall(roster="").roster == hall(roster="child,class,award,has\n").roster == ()


def test_namesakes_with_ids_are_two_children() -> None:
    """Ids tell two children of one name apart."""
    assert len(hall(roster="id,child,class,award\n1,Ana B,mon,spark\n2,Ana B,mon,spark\n").roster) == 2


BROKEN_CLUBS = [
    (CLUB.replace('name = "Møllegade Hall"', ""), r"line 1, name: name is missing; .*Lane Hall"),
    (CLUB.replace("Copenhagen", "Kopenhagen"), r"line 2, timezone: .*mean \"Europe/Copenhagen\""),
    (CLUB.replace("Europe/Copenhagen", "../x"), r"line 2, timezone: there is no time zone"),
    (CLUB.replace('"bo"\nassistant', '"boo"\nassistant'),
     r"line 10, class mon / coach: .*\"bo\"\? or add a \[\["),
    (CLUB.replace('["sam"]', '["bo",\n"zz"]'),
     r"line 12, class mon / assistant: .*\"zz\"; .*add a \[\[person"),
    (CLUB.replace('"Monday"\nstart', '"Mnday"\nstart'),
     r"line 7, class mon / day: \"Mnday\" is not a day.*day = \"Tuesday\""),
    (CLUB.replace('"17:00"', '"25:00"'),
     r"line 8, class mon / start: there is no \"25:00\".*start = \"17:00\""),
    (CLUB.replace('"17:00"', '"5pm"'), r"line 8, class mon / start: \"5pm\" is not a time of day.*write"),
    (CLUB.replace('"17:00"', "17:00"), r"line 8, the file: .*put the time in quotes"),
    (CLUB.replace('start = "17:00"\n', ""), r"line 4, class mon / start: start is missing; .*17:00"),
    (CLUB.replace("minutes = 60", "minutes = 60\nwatch_minutes = 61"),
     r"line 10, .*watch_minutes = 60 or less"),
    (CLUB.replace("minutes = 60", "minutes = 1"),
     r"line 9, class mon / minutes: .*at least 5; .*minutes = 60"),
    (CLUB + "timezone = 'x'\n", r"line 26, closed 2027-02-15 / timezone: .*at the top of the file"),
    (CLUB.replace("timezone", "timezon"), r"line 2, timezon: .*did you mean \"timezone\""),
    (CLUB.replace("2027-02-19", "2026-02-19"), r"line 25, closed .* / to: .*exchange from and to"),
    (CLUB.replace("2027-02-19", '"19 Feb"'),
     r"line 25, closed .* / to: \"19 Feb\" is not a date.*2027-02-19"),
    (CLUB.replace('id = "sam"', 'id = "bo"'), r"line 19, person bo / id: another person .*its own"),
    (CLUB + '[[class]]\nid = "MON"\nday = "fri"\nstart = "10:00"\n',
     r"line 27, class MON / id: another class"),
    (CLUB.replace('"assistant"', '"parent"'), r"line 21, person sam / role: .*parents are invited"),
    (CLUB.replace('role = "coach"', 'role = "helper"'),
     r"line 10, class mon / coach: .*write helper = \"bo\""),
    (CLUB.replace("[[closed]]", 'quiet = ["late", "8:00"]\n[[closed]]'),
     r"line 23, person sam / quiet: .*top"),
    ('quiet = ["late", "8:00"]\n' + CLUB, r"line 1, quiet: \"late\" is not a time.*20:00"),
    ('tell_awards = "never"\n' + CLUB, r"line 1, tell_awards: \"never\" is not one.*\"earned\""),
    ("keep_months = 0\n" + CLUB, r"line 1, keep_months: 0 is too small.*keep_months = 24"),
    (CLUB.replace("[[class]]", "[class]"), r"line 4, class: this should be a list; .*\[\[class\]\]"),
]
BROKEN_ROSTERS = [
    (ROSTER + "Ida,tue,spark,\n", r"line 4, row Ida / class: there is no class \"tue\"; use one of \"mon\""),
    (ROSTER + "Ida,mon,sparc,\n", r"line 4, row Ida / award: .*did you mean \"spark\""),
    (ROSTER + "Ida,mon,spark,hop;tukk\n", r"line 4, row Ida / has: .*\"tukk\"; did you mean \"tuck\""),
    (ROSTER + "Ida,mon,spark,hop,tuck\n", r"line 4, row Ida / has: more|there are more cells.*hop;tuck"),
    (ROSTER + "Ida,,spark,\n", r"line 4, row Ida / class: the class is missing; fill it in"),
    (ROSTER + ",mon,spark,\n", r"line 4, row without a name / child: the child is missing"),
    (ROSTER + "?!,mon,spark,\n", r"line 4, row \?! / child: there is no letter"),
    (ROSTER + "Ase Holm,mon,spark,\n",
     r"line 2, row Åse Holm / id: 2 rows bear .*\(lines 2 and 4\).*column id"),
    ("id,child,class,award\n1,Ana B,mon,spark\n1,Ida C,mon,spark\n",
     r"line 3, row Ida C / id: .*line 2.*its own"),
    ("child,class,award,hass\n", r"line 1, column hass: .*did you mean \"has\""),
    ("name,class,award\n", r"line 1, column child: this column is missing; .*child,class,award,has"),
    ("child,class,award,class\n", r"line 1, column class: this column is there twice; delete one"),
]


@pytest.mark.parametrize(("club", "said"), BROKEN_CLUBS, ids=[said[:60] for _, said in BROKEN_CLUBS])
def test_each_fault_of_a_club_names_file_line_key_and_remedy(club: str, said: str) -> None:
    """Whatever is wrong with club.toml is told with its place and what to do about it."""
    assert re.search(f"^club.toml, {said}", faults(club), re.MULTILINE), faults(club)


@pytest.mark.parametrize(("roster", "said"), BROKEN_ROSTERS, ids=[said[:60] for _, said in BROKEN_ROSTERS])
def test_each_fault_of_a_list_names_file_line_row_and_remedy(roster: str, said: str) -> None:
    """Whatever is wrong with roster.csv is told with its place and what to do about it."""
    assert re.search(f"^roster.csv, {said}", faults(roster=roster), re.MULTILINE), faults(roster=roster)


def test_the_faults_of_all_three_files_are_told_at_once() -> None:
    """Nobody has to load a hall three times to hear of three faults."""
    said = faults(CLUB.replace('"17:00"', '"25:00"'), ROSTER + "Ida,mon,sparc,\n", SCHEME + "  line = 0\n")
    assert [line.split(",")[0] for line in said.splitlines()] == ["scheme.toml", "club.toml", "roster.csv"]


def test_a_broken_file_brings_no_false_faults_into_another() -> None:
    """With a club that cannot be read nothing is said of the classes of the list."""
    assert len(faults("name = ").splitlines()) == 1
