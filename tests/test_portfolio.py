"""Many buildings: ranked and spread over a week from what is kept, quickly, and nothing is fitted for it."""

from __future__ import annotations

import datetime as dt
import json
import shutil
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from small import LIVED_IN, QUICK, small_session
from werkzeug.test import Client

from dashboard.office.folders import Folders
from dashboard.office.many import Many
from spread.cli import main
from spread.errors import SettingsError, SpreadError
from spread.portfolio.folders import folders_in, is_many, read_many
from spread.portfolio.standing import Kept, averted_in, ranked, standing_of, units_called
from spread.portfolio.team import Team, team_week, working_days
from spread.records.kinds import FIELDS
from spread.records.summaries import Owed, Said, Summary, Worth, file_of, text_of_summary
from spread.report.buildings import line_of
from spread.session import Session
from spread.words import ENGLISH

ON = dt.date(2026, 11, 25)
VISIT = {"Accept": "text/html"}


def day(ahead):
    return ON + dt.timedelta(days=ahead)


def kept(key="elm", *, doors=(), owed=(), rows=5, chances=None, now=5, **more):
    summary = Summary(
        on=ON, rows=rows, units=12, known=0, low=1, median=3, high=6, trend="unknown", fell=0.3, rose=0.2,
        settled=True, chances=chances or {"101": 0.4}, doors=tuple(doors), owed=tuple(owed),
        said=(Said(ON, 1, 3, 6, rows),),
    )  # fmt: skip
    return Kept(key, key.title(), summary, now, ON, ON, **more)


# -- how it stands


def test_buildings_go_by_what_an_hour_there_averts_and_those_without_figures_come_last():
    doors = [Worth(20.0, 0.5), Worth(30.0, 0.3), Worth(40.0, 0.2)]
    assert averted_in(doors, 60.0) == pytest.approx(0.5 + 0.3 + 0.2 * 10 / 40)
    many = [kept("oak", doors=doors[1:]), Kept("ash", "Ash"), kept("elm", doors=doors)]
    assert [one.kept.key for one in ranked(many, ON)] == ["elm", "oak", "ash"]


def test_what_is_late_goes_by_todays_date_and_not_by_the_day_of_the_fit():
    owed = [Owed("101", "treat", day(-3), day(1), 30.0), Owed("102", "watch", day(5), day(9), 20.0)]
    one = kept(owed=owed)
    assert (standing_of(one, ON).late, standing_of(one, ON).next_day) == ((), day(-3))
    later = standing_of(one, day(4))
    assert [each.unit for each in later.late] == ["101"]
    assert later.next_day == day(5)
    assert standing_of(kept(rows=5, now=8), ON).newer == 3


def test_a_unit_is_found_anywhere_the_exact_code_first():
    many = [kept("elm", chances={"101": 0.1, "1010": 0.2}), kept("oak", chances={"B2": 0.3, "101": 0.5})]
    found = units_called(many, " 101 ")
    assert [(one.kept.key, one.unit, one.chance) for one in found] == [
        ("elm", "101", 0.1), ("oak", "101", 0.5), ("elm", "1010", 0.2),
    ]  # fmt: skip
    assert [one.unit for one in units_called(many, "b")] == ["B2"]
    assert units_called(many, " ") == ()


def test_a_building_with_an_empty_log_is_said_to_have_the_usual_figures():
    words = line_of(standing_of(kept(rows=0, now=0), ON), ON, ENGLISH)
    assert "nothing is on record" in words.note
    assert line_of(standing_of(kept(), ON), ON, ENGLISH).note == ""


# -- a team's week

DOORS = st.lists(st.builds(Worth, st.floats(5.0, 90.0), st.floats(0.0, 2.0)), max_size=8)
OWED = st.lists(
    st.builds(
        lambda unit, target, slack, minutes: Owed(unit, "treat", day(target), day(target + slack), minutes),
        st.sampled_from(["101", "102", "103"]), st.integers(-10, 8), st.integers(0, 6), st.floats(5.0, 120.0),
    ),
    max_size=5,
)  # fmt: skip


@settings(max_examples=120, deadline=None)
@given(
    st.lists(st.tuples(DOORS, OWED), max_size=4), st.floats(1.0, 8.0), st.integers(1, 5), st.floats(0.0, 90.0)
)
def test_no_day_is_longer_than_it_is_and_nothing_is_done_twice_or_lost(buildings, hours, days, travel):
    many = [kept(f"b{k}", doors=doors, owed=owed) for k, (doors, owed) in enumerate(buildings)]
    week = team_week(many, ON, Team(hours, days, travel))
    by_day = {}
    for stay in week.stays:
        by_day[stay.day] = by_day.get(stay.day, 0.0) + stay.minutes + stay.travel
        assert stay.travel == travel
        assert stay.owed + stay.looks > 0
    assert all(minutes <= 60.0 * hours + 1e-6 for minutes in by_day.values())
    assert set(by_day) <= set(working_days(ON, days))
    assert len({(stay.day, stay.kept.key) for stay in week.stays}) == len(week.stays), "one stay a day"
    last = working_days(ON, days)[-1]
    for one in many:
        due = [owed for owed in one.summary.owed if min(owed.target, owed.latest) <= last]
        stays = [stay for stay in week.stays if stay.kept is one]
        left = [owed for building, owed in week.left if building is one]
        assert sum(stay.owed for stay in stays) + len(left) == len(due)
        assert sum(stay.looks for stay in stays) <= len(one.summary.doors)
    assert week.averted <= sum(door.averted for one in many for door in one.summary.doors) + 1e-6


def test_what_is_owed_goes_before_what_averts_most_and_the_way_counts():
    owed = [Owed("101", "treat", day(-9), day(-2), 50.0)]
    near = kept("near", doors=[Worth(60.0, 1.0)] * 2)
    rich = kept("rich", doors=[Worth(60.0, 1.3)])
    poor = kept("poor", owed=owed)
    week = team_week([near, rich, poor], ON, Team(2.0, 1, 10.0))
    first = week.stays[0]
    assert (first.kept.key, first.owed, first.looks) == ("poor", 1, 0)
    far = team_week([near, rich], ON, Team(3.0, 1, 60.0))
    assert [stay.kept.key for stay in far.stays] == ["near"], "two doors for one way beat one better door"
    assert team_week([Kept("ash", "Ash")], ON).unknown[0].key == "ash"


# -- a folder of folders


def write_many(folder, number, units=100):
    """Folders as fits leave them: settings, a log of some hundred rows, and what the fit said."""
    header = ",".join(FIELDS)
    codes = [f"{floor}{place:02d}" for floor in range(1, units // 10 + 1) for place in range(1, 11)]
    rows = [
        f"r{k},2026-{k % 11 + 1:02d}-10,{codes[k % len(codes)]},inspection,brief-visual,no,,,,,T1,,"
        for k in range(300)
    ]
    for k in range(number):
        one = kept(
            f"house-{k:03d}", rows=300, now=300, chances={code: round(0.001 * (k + 1), 4) for code in codes},
            doors=[Worth(20.0 + j, round(0.5 / (j + k + 1), 4)) for j in range(40)],
            owed=[Owed(codes[j], "watch", day(j - 3), day(j + 4), 20.0) for j in range(10)],
        )  # fmt: skip
        home = folder / one.key
        home.mkdir(parents=True)
        (home / "building.toml").write_text(f'name = "House {k}"\nfloors = ["1"]\n', encoding="utf-8")
        (home / "records.csv").write_text("\n".join([header, *rows]) + "\n", encoding="utf-8")
        (home / file_of("records.csv")).write_text(text_of_summary(one.summary), encoding="utf-8")


def nobody_fits(folder):
    raise AssertionError(f"{folder} was opened")


def test_two_hundred_buildings_stand_on_the_start_page_from_what_is_kept(tmp_path):
    """Under a second of the processor's time, which others at work on the machine do not make longer."""
    write_many(tmp_path / "many", 200)
    client = Client(Folders(tmp_path / "many", nobody_fits))
    client.get("/", headers=VISIT)  # the template is read once
    spent = []
    for _ in range(3):
        began = time.process_time()
        text = client.get("/?unit=105", headers=VISIT).text
        spent.append(time.process_time() - began)
    assert text.count('<tr id="b-house-') == 200
    assert "105 in House 0" in text
    assert min(spent) < 1.0


def test_a_folder_of_folders_is_told_from_a_buildings_own(tmp_path):
    write_many(tmp_path / "many", 2, 10)
    assert is_many(tmp_path / "many")
    assert not is_many(tmp_path / "many" / "house-000")
    (tmp_path / "many" / "notes").mkdir()
    assert list(folders_in(tmp_path / "many")) == ["house-000", "house-001"]
    for wrong in (tmp_path / "nowhere", tmp_path / "many" / "notes"):
        with pytest.raises(SpreadError):
            folders_in(wrong)


def test_what_cannot_be_read_is_said_of_that_building_alone(tmp_path):
    write_many(tmp_path / "many", 3, 10)
    (tmp_path / "many" / "house-001" / "building.toml").write_text("name = ", encoding="utf-8")
    (tmp_path / "many" / "house-002" / file_of("records.csv")).write_text("{", encoding="utf-8")
    whole, broken, bare = read_many(tmp_path / "many")
    assert whole.summary is not None
    assert "cannot be read" in broken.problem
    assert bare.summary is None
    assert bare.rows == 300
    text = Client(Folders(tmp_path / "many", nobody_fits)).get("/", headers=VISIT).text
    assert "cannot be read" in text
    assert "No fit is kept" in text
    assert "Fit House 2 now" in text


def test_a_building_without_figures_is_fitted_on_request_and_then_has_them(tmp_path):
    folder = tmp_path / "many"
    small_session(folder / "made", rows=LIVED_IN)
    served = Folders(folder, lambda path: Session.open(path, on=ON, settings=QUICK))
    client = Client(served)
    assert "No fit is kept" in client.get("/", headers=VISIT).text
    reply = client.post("/opening/made", data={"stay": "1"}, headers={"Origin": "http://localhost"})
    assert (reply.status_code, reply.location) == (303, "/")
    assert served.openings.wait("made").server is not None
    text = client.get("/", headers=VISIT).text
    assert "No fit is kept" not in text
    assert "of 23" in text or "of 11" in text
    page = client.get("/at/made/week", headers=VISIT).text
    assert '<a href="/">Buildings</a>' in page
    assert client.get("/at/nowhere/", headers=VISIT).status_code == 404
    assert isinstance(served, Many)


def test_buildings_with_people_of_their_own_are_not_shown_to_whoever_asks(tmp_path):
    write_many(tmp_path / "many", 1, 10)
    (tmp_path / "many" / "house-000" / "people.json").write_text("{}", encoding="utf-8")
    with pytest.raises(SettingsError, match="people who sign in"):
        Folders(tmp_path / "many", nobody_fits)


def test_the_command_says_the_same_and_checks_its_numbers(tmp_path, capsys):
    write_many(tmp_path / "many", 3, 10)
    folder = str(tmp_path / "many")
    assert main(["buildings", folder, "--on", ON.isoformat(), "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert [one["key"] for one in data["buildings"]] == ["house-000", "house-001", "house-002"]
    assert data["buildings"][0]["figures"]["median"] == 3
    assert data["week"][0]["day"] == ON.isoformat()
    assert main(["buildings", folder, "--on", ON.isoformat()]) == 0
    text = capsys.readouterr().out
    assert "House 2" in text
    assert "One team’s week" in text
    assert "A low chance clears no unit" in " ".join(text.split())
    assert main(["buildings", folder, "--unit", "105"]) == 0
    assert "105 in House 0" in capsys.readouterr().out
    assert main(["buildings", folder, "--hours", "40"]) == 2
    shutil.rmtree(folder)
    assert main(["buildings", folder]) == 2
