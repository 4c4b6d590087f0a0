"""A plan that changes while its log goes on: no row is lost or given away, and nothing is cleared by it."""

import csv
import datetime as dt
import itertools
import json
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from spread.building import LOG_FILE, PLAN_FILE, load_building, with_changes
from spread.changing import difference, keep, with_more, without
from spread.cli import main
from spread.decisions.case.case import case_of
from spread.decisions.case.clearance import count_of
from spread.decisions.standing import standing_of
from spread.errors import PlanError, SpreadError
from spread.plan.amending import amend, apply
from spread.plan.changes import CHANGES_FILE, change_of, changes_text, read_changes
from spread.plan.geojson import write_plan
from spread.records.following import Homes
from spread.records.items import read_items
from spread.records.kinds import FIELDS, Record
from spread.records.log import Log
from spread.records.looked import seen_as
from spread.session import Session
from spread.trade.clearance import ClearanceRule
from tests.small import QUICK, made_plan

DAY = dt.date(2026, 11, 1)
ON = dt.date(2026, 11, 25)
SEEN = "mattress: nothing; box-spring: nothing; bed-frame: nothing"


def change(step, day=DAY, **said):
    return change_of({"step": step, "on": day.isoformat(), **said})


def row(unit, ago, kind="inspection", method="thorough-visual", found="no", **more):
    """A row so many days before the day of the changes; below 0 after it."""
    when = DAY - dt.timedelta(days=ago)
    return Record(f"{unit}-{ago}-{kind}", when, unit, kind, method, found, **more)


@pytest.fixture
def folder(tmp_path):
    made = tmp_path / "house"
    made.mkdir()
    plan = made_plan(2, 3)
    (made / "building.toml").write_text('name = "Made House"\nfloors = ["1", "2"]\n', encoding="utf-8")
    write_plan(plan, made / PLAN_FILE)
    return made


def log_rows(folder, *rows):
    with (folder / LOG_FILE).open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, FIELDS)
        writer.writeheader()
        for number, (unit, day, kind, method, found) in enumerate(rows, 1):
            writer.writerow({"id": f"r{number}", "when": day, "unit": unit, "kind": kind, "method": method,
                             "found": found, "level": "low" if found == "yes" else ""})  # fmt: skip


def bytes_of(plan, tmp_path):
    write_plan(plan, tmp_path / "again.geojson")
    return (tmp_path / "again.geojson").read_bytes()


# What a code meant on a day


def test_a_renamed_home_keeps_its_records_and_old_numbers_are_still_understood():
    homes = Homes([change("rename", unit="204", to="204A")], {"204A"})
    for day in (DAY - dt.timedelta(days=9), DAY, ON):
        assert [(h.unit, h.other) for h in homes.of("204", day)] == [("204A", False)]
        assert [(h.unit, h.other) for h in homes.of("204A", day)] == [("204A", False)]


def test_numbers_that_move_along_a_floor_give_nobody_the_records_of_another():
    changes = [change("rename", unit=f"{n}", to=f"{n + 1}") for n in (203, 202, 201)]
    homes = Homes(changes, {"202", "203", "204"})
    before, after = DAY - dt.timedelta(days=1), DAY
    assert [homes.of(str(n), before)[0].unit for n in (201, 202, 203)] == ["202", "203", "204"]
    assert [homes.of(str(n), after)[0].unit for n in (202, 203, 204)] == ["202", "203", "204"]
    assert homes.of("201", after)[0].unit == "202", "201 is no number any more: it is what it was last"


def test_a_code_that_is_used_again_means_what_it_meant_on_the_day():
    later = DAY + dt.timedelta(days=10)
    changes = [change("rename", unit="1", to="1A"), change("new", later, unit="1", floor="1", room="laundry")]
    homes = Homes(changes, {"1", "1A"})
    assert homes.of("1", DAY - dt.timedelta(days=1))[0].unit == "1A"
    assert homes.of("1", DAY)[0].unit == "1A"
    assert homes.of("1", later)[0].unit == "1"


def test_a_home_that_is_gone_has_no_unit_and_its_rows_stay_in_the_log():
    homes = Homes([change("gone", unit="105")], {"101"})
    log = Log([row("105", 3), row("101", 3)])
    assert [r.unit for r in homes.follow(log).rows] == ["101"]
    assert [r.unit for r in homes.lost(log)] == ["105"]


# What records say of a home that was parted


def parted(*rows, units=("204A", "204B")):
    homes = Homes(
        [change("split", unit="204", into=list(units), floor="2", line=[[0, 0], [1, 1]])], set(units)
    )
    return homes.follow(Log(rows))


def test_a_find_in_a_home_holds_for_both_parts_until_each_has_been_looked_at():
    log = parted(row("204", 90, found="yes", level="low"), row("204", 60, "treatment", "spray", ""))
    for part in ("204A", "204B"):
        assert standing_of(log.of(part), ON).status == "revisit"
        assert [r.was for r in log.of(part)] == ["204", "204"]


def clean_history(unit, first=80):
    """What clears a home: a find, a treatment, months of traps and looks that name the bed."""
    rows = [row(unit, 200, found="yes", level="low"), row(unit, 170, "treatment", "spray", "")]
    rows += [row(unit, 170 - 14 * n, "monitor", "interceptors", "no", days=14) for n in range(1, 12)]
    rows += [row(unit, n, items=read_items(SEEN)) for n in (120, 60, 15)]
    return [*rows, row(unit, 169, "treatment", "encasement", "", items=read_items("encasement: intact"))]


RULE = ClearanceRule()


@pytest.mark.parametrize("step", ["split", "keeping", "merge"])
def test_no_home_is_cleared_or_calm_by_a_change(step):
    rows = clean_history("204")
    before = count_of(rows, ON, RULE)
    assert before is not None
    assert before.met_on is not None, before.lacks
    assert before.looks, "the looks count before the change"
    assert before.periods, "and the periods"
    if step == "merge":
        homes = Homes([change("merge", units=["204", "205"], into="204")], {"204"})
        units = ("204",)
    else:
        units = ("204", "204B") if step == "keeping" else ("204A", "204B")
        homes = Homes(
            [change("split", unit="204", into=list(units), floor="2", line=[[0, 0], [1, 1]])], set(units)
        )
    log = homes.follow(Log(rows))
    for unit in units:
        count = count_of(log.of(unit), ON, RULE)
        assert count is not None
        assert count.looks == ()
        assert count.periods == ()
        assert {"periods", "first-look"} <= {lack.code for lack in count.lacks}
        assert count.met_on is None
        assert not case_of(log.of(unit), unit, ON).calm
        assert standing_of(log.of(unit), ON).clear_since == 0


def test_looks_after_the_change_count_as_ever():
    log = parted(
        row("204", 90, found="yes", level="low"), row("204", 60, "treatment", "spray", ""), row("204A", -20)
    )
    assert standing_of(log.of("204A"), ON).clear_since == 1
    assert standing_of(log.of("204B"), ON).clear_since == 0


def test_an_old_number_on_a_list_after_a_split_is_of_the_home_as_it_was():
    log = parted(row("204", -5, found="yes", level="low"), row("204", -6))
    for part in ("204A", "204B"):
        assert standing_of(log.of(part), ON).status == "treat"


# What records say of homes that were joined


def joined(*rows):
    return Homes([change("merge", units=["101", "102"], into="101")], {"101"}).follow(Log(rows)).of("101")


def test_signs_of_both_parts_follow_and_a_look_of_one_hides_none_of_the_other():
    rows = joined(
        row("101", 50, found="yes", level="low"), row("102", 30), row("102", 20, "treatment", "spray", "")
    )
    assert standing_of(rows, ON).status == "treat", "the other half was treated, not this one"
    assert [r.kind for r in rows] == ["inspection", "inspection", "note"]
    assert seen_as(rows[1]) == "", "a clean look of one half says nothing of a find in the other"


def test_a_treatment_stands_where_the_sign_was_of_the_same_part():
    rows = joined(
        row("102", 50, found="yes", level="low"), row("102", 20, "treatment", "spray", ""), row("102", 5)
    )
    assert standing_of(rows, ON).status == "revisit"
    assert seen_as(rows[2]) == "thorough-visual", "it answers the find of that very part"
    assert standing_of(rows, ON).clear_since == 0


def test_a_clean_look_of_a_part_without_signs_says_nothing_of_the_whole():
    rows = joined(row("101", 9), row("101", 8, "monitor", "interceptors", "no", days=14))
    assert [seen_as(r) for r in rows] == ["", ""]


def test_a_part_that_stood_empty_makes_no_empty_home():
    assert not standing_of(joined(row("102", 9, "turnover", "moved-out", "")), ON).vacant


def test_a_home_parted_and_joined_again_has_every_row_once():
    changes = [
        change("split", unit="204", into=["204", "204B"], floor="2", line=[[0, 0], [1, 1]]),
        change("merge", DAY + dt.timedelta(days=5), units=["204", "204B"], into="204"),
    ]
    log = Homes(changes, {"204"}).follow(Log([row("204", 9, found="yes", level="low"), row("204B", -2)]))
    assert [r.id for r in log.of("204")] == ["204-9-inspection", "204B--2-inspection"]


def test_a_correction_reaches_every_copy_of_a_row():
    first = row("204", 90, found="yes", level="low")
    log = parted(first, Record("fix", ON, "204", "note", supersedes=first.id))
    for part in ("204A", "204B"):
        assert [r.id for r in log.of(part)] == ["fix"]


def test_a_longer_log_is_followed_as_one_read_at_once():
    homes = Homes([change("merge", units=["101", "102"], into="101")], {"101", "103"})
    log = Log([row("102", 9, found="yes", level="low"), row("103", 9)])
    homes.follow(log)
    for more in (row("103", -1), row("101", -2), row("102", -3, "treatment", "spray", "")):
        log = log.longer([more])
        assert homes.follow(log) == Homes(
            [change("merge", units=["101", "102"], into="101")], {"101", "103"}
        ).follow(Log(log.rows))


# Any sequence of changes and undos


CODES = st.sampled_from(["101", "102", "103", "201", "203", "205", "N1", "N2"])


@st.composite
def told(draw):
    """A change that may or may not fit."""
    step = draw(
        st.sampled_from(["rename", "split", "merge", "gone", "new", "wall", "add", "remove", "room", "lift"])
    )
    a, b, c = draw(CODES), draw(CODES), draw(CODES)
    floor = draw(st.sampled_from(["1", "2"]))
    x = draw(st.floats(0.5, 20.0).map(lambda v: round(v, 2)))
    said = {
        "rename": {"unit": a, "to": b},
        "split": {"unit": a, "into": [b, c], "floor": floor, "line": [[x, -1.0], [x, 20.0]]},
        "merge": {"units": [a, b], "into": c},
        "gone": {"unit": a, "room": draw(st.sampled_from(["", "lounge"]))},
        "new": {"unit": a, "floor": floor, "outline": [[x, -9], [x + 4, -9], [x + 4, -5], [x, -5]]},
        "wall": {"a": a, "b": b, "floor": floor, "metres": draw(st.sampled_from([-0.5, 0.5]))},
        "add": {"kind": "riser", "id": "new riser", "floors": ["1", "2"], "at": [x, 5.0]},
        "remove": {"kind": draw(st.sampled_from(["door", "riser", "bed"])), "id": f"door-{a}"},
        "room": {"id": "hall-1", "floor": "1", "name": "lobby"},
        "lift": {"id": "stair-1"},
    }[step]
    return {"step": step, "on": DAY.isoformat(), **said}


LOGGED = (
    *clean_history("203"),
    *(
        row(unit, days, kind, method, found, level="low" if found == "yes" else "")
        for unit, (days, kind, method, found) in itertools.product(
            ["101", "102", "103", "201", "202"],
            [(90, "inspection", "thorough-visual", "yes"), (60, "treatment", "spray", ""),
             (20, "inspection", "thorough-visual", "no")],
        )
    ),
)  # fmt: skip


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(told(), max_size=6), st.data())
def test_changes_and_undos_give_back_the_plan_and_lose_and_give_away_no_row(tmp_path, wanted, data):
    drawing = made_plan(2, 3)
    kept, plans = [], [drawing]
    for one in wanted:
        try:
            made = change_of(one)
            plans.append(apply(plans[-1], made))
            kept.append(made)
        except PlanError:
            continue
    assert read_changes(changes_text(kept).encode()) == tuple(kept)
    whole = amend(drawing, kept)
    assert whole.unfit == ()
    assert bytes_of(whole.plan, tmp_path) == bytes_of(plans[-1], tmp_path)
    homes = Homes(kept, whole.plan.units.keys())
    log = homes.follow(Log(LOGGED))
    known = {r.id: r for r in LOGGED}
    assert {r.id for r in log.rows} | {r.id for r in homes.lost(Log(LOGGED))} == known.keys(), (
        "no row is lost"
    )
    for moved in log.rows:
        assert moved.unit in whole.plan.units
        assert moved.unit in {home.unit for home in homes.of(known[moved.id].unit, known[moved.id].when)}
        assert moved.when == known[moved.id].when
    for unit in whole.plan.units:  # nothing is settled by a change: a find without clearance is never calm
        rows = log.of(unit)
        same = {known[r.id].unit for r in rows} == {"203"} and not any(r.was for r in rows)
        if any(r.found == "yes" for r in rows) and not same:  # 203 was cleared before, as it is
            assert not case_of(rows, unit, ON).calm
        count = count_of(rows, ON, RULE)
        if any(r.was for r in rows):
            assert count is None or count.met_on is None, "no home is cleared by what was seen of another"
        assert len({r.id for r in rows}) == len(rows), "no row twice in one home"
    back = data.draw(st.integers(0, len(kept)))
    assert bytes_of(amend(drawing, kept[:back]).plan, tmp_path) == bytes_of(plans[back], tmp_path)


# A building's folder


def test_a_change_is_kept_beside_the_drawing_and_taken_back_to_the_byte(folder, tmp_path):
    log_rows(folder, ("204", "2026-10-01", "inspection", "thorough-visual", "yes"))
    drawn, logged = (folder / PLAN_FILE).read_bytes(), (folder / LOG_FILE).read_bytes()
    before = load_building(folder)
    was = bytes_of(before.plan, tmp_path)
    after = with_more(before, [change("rename", unit="204", to="204A")])
    assert not (folder / CHANGES_FILE).exists(), "nothing is written before it is kept"
    told_of = difference(before, after)
    assert (told_of.gained, told_of.lost) == ((), ())
    assert told_of.following == {"204A": 1}
    keep(before, after)
    again = load_building(folder)
    assert [r.unit for r in again.log.rows] == ["204A"]
    assert ((folder / PLAN_FILE).read_bytes(), (folder / LOG_FILE).read_bytes()) == (drawn, logged)
    keep(again, without(again, 0))
    assert bytes_of(load_building(folder).plan, tmp_path) == was


def test_two_people_who_change_a_plan_at_once_lose_nothing(folder):
    mine, theirs = load_building(folder), load_building(folder)
    keep(theirs, with_more(theirs, [change("rename", unit="204", to="204A")]))
    with pytest.raises(PlanError, match="somebody has changed the plan meanwhile, and nothing was written"):
        keep(mine, with_more(mine, [change("rename", unit="201", to="201A")]))
    assert load_building(folder).plan.units.keys() >= {"204A", "201"}


def test_a_change_is_refused_that_would_hand_rows_to_another_home(folder):
    log_rows(folder, ("101", "2026-11-10", "inspection", "thorough-visual", "no"))
    building = load_building(folder)
    with pytest.raises(
        PlanError, match=r"'101' has 1 rows from then on, the last of 2026-11-10; give a later day"
    ):
        with_more(building, [change("merge", units=["101", "103"], into="101")])
    after = with_more(building, [change("merge", units=["101", "103"], into="1013")])
    assert [(r.unit, r.was, r.rests) for r in after.log.rows] == [("1013", "101", True)]
    with pytest.raises(PlanError, match="is still to come"):
        with_more(building, [change("rename", dt.date(2099, 1, 1), unit="101", to="x")])


def test_a_merge_is_not_taken_back_once_the_whole_has_records(folder):
    log_rows(folder, ("102", "2026-10-01", "inspection", "thorough-visual", "yes"))
    before = load_building(folder)
    keep(before, with_more(before, [change("merge", units=["102", "104"], into="102")]))
    log_rows(folder, ("102", "2026-10-01", "inspection", "thorough-visual", "yes"),
             ("102", "2026-11-20", "inspection", "thorough-visual", "no"))  # fmt: skip
    with pytest.raises(PlanError, match=r"the log has 1 rows of '102' since then"):
        without(load_building(folder), 0)


def test_a_redrawn_plan_loses_no_correction_and_names_what_fits_no_more(folder):
    before = load_building(folder)
    keep(before, with_more(before, [
        change("rename", unit="204", to="204A"), change("lift", id="stair-1"),
        change("add", kind="riser", id="east riser", floors=["1", "2"], at=[7.0, 12.0]),
        change("wall", a="102", b="104", floor="1", metres=0.5, every_floor=True),
    ]))  # fmt: skip
    plan = made_plan(2, 3, front=7.5)
    units = {code: unit for code, unit in plan.units.items() if code != "104"}
    plan = replace(plan, units=units, doors=tuple(d for d in plan.doors if d.unit != "104"),
                   beds=tuple(b for b in plan.beds if b.unit != "104"))  # fmt: skip
    write_plan(plan, folder / PLAN_FILE)
    again = load_building(folder)
    assert "204A" in again.plan.units
    assert {s.kind for s in again.plan.shafts if s.id in ("stair-1", "east riser")} == {"lift", "riser"}
    unfit = [str(w) for w in again.warnings if w.file == CHANGES_FILE]
    assert len(unfit) == 1
    assert "line 4 (wall, from 2026-11-01): it no longer fits the drawing" in unfit[0]
    assert len(again.changes) == 4, "it is named and not dropped"


def test_a_log_with_a_code_that_nobody_knows_is_sent_to_no_other_home(folder, capsys):
    log_rows(folder, ("209", "2026-10-01", "inspection", "thorough-visual", "yes"))
    assert main(["check", str(folder)]) == 2
    said = capsys.readouterr().err
    assert (
        "unit '209' is not in the plan; if it was renamed, parted, joined or is gone, say so with spread plan"
        in said
    )
    assert "if that is meant" not in said


def test_settings_that_name_units_by_older_codes_hold_for_the_units_of_today(folder):
    with (folder / "building.toml").open("a", encoding="utf-8") as file:
        file.write('[[links]]\na = "201"\nb = "204"\nwhy = "shares a laundry with"\n'
                   '[[access]]\nunit = "204"\ndo_not_enter = true\nwhy = "key at the office"\n')  # fmt: skip
    before = load_building(folder)
    x = before.plan.units["204"].parts["2"].centroid.x
    after = with_changes(before, [
        change("split", unit="204", into=["204A", "204B"], floor="2", line=[[x, 0], [x, 20]]),
        change("link", a="202", b="203", route="link", words="are one family with"),
    ])  # fmt: skip
    assert {(k.a, k.b) for k in after.settings.links} == {("201", "204A"), ("201", "204B"), ("202", "203")}
    assert [rule.unit for rule in after.settings.access] == ["204A", "204B"]


# The command line


def test_the_command_shows_keeps_lists_and_undoes(folder, capsys):
    log_rows(folder, ("204", "2026-10-01", "inspection", "thorough-visual", "yes"))
    house = str(folder)
    assert main(["plan", house, "rename", "204", "204A", "--from", "2026-11-01", "--try"]) == 0
    assert "Nothing was written: this was a try." in capsys.readouterr().out
    assert not (folder / CHANGES_FILE).exists()
    assert main(["plan", house, "rename", "204", "204A", "--from", "2026-11-01"]) == 0
    assert "Records that follow: 1 to 204A. The log stays as it is." in capsys.readouterr().out
    assert main(["plan", house, "split", "201", "201A", "201B", "--from", "2026-11-02"]) == 0
    capsys.readouterr()
    assert main(["plan", house, "list"]) == 0
    said = capsys.readouterr().out
    assert "1. 204 is called 204A from Sun 1 Nov 2026 on." in said
    assert "2. 201 is parted into 201A and 201B from Mon 2 Nov 2026 on." in said
    assert main(["check", house]) == 0
    assert "9 units" not in capsys.readouterr().err
    assert main(["plan", house, "undo", "1"]) == 0
    assert main(["plan", house, "undo"]) == 0
    capsys.readouterr()
    assert main(["plan", house, "list", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == []
    assert Path(folder / CHANGES_FILE).read_text(encoding="utf-8") == ""


def test_a_new_drawing_is_laid_under_the_changes_and_the_old_one_stays(folder, tmp_path, capsys):
    house = str(folder)
    assert main(["plan", house, "rename", "204", "204A", "--from", "2026-11-01"]) == 0
    old = (folder / PLAN_FILE).read_text(encoding="utf-8")
    write_plan(made_plan(2, 3, front=8.0), tmp_path / "new.geojson")
    capsys.readouterr()
    assert main(["plan", house, "redraw", str(tmp_path / "new.geojson"), "--try"]) == 0
    assert (folder / PLAN_FILE).read_text(encoding="utf-8") == old
    assert main(["plan", house, "redraw", str(tmp_path / "new.geojson")]) == 0
    assert "Contacts that weigh more or less" in capsys.readouterr().out
    assert "204A" in load_building(folder).plan.units
    assert [p.read_text(encoding="utf-8") for p in folder.glob("plan.before-*.geojson")] == [old]
    write_plan(made_plan(1, 3), tmp_path / "small.geojson")
    assert main(["plan", house, "redraw", str(tmp_path / "small.geojson")]) == 0
    assert "no longer fits the drawing" in capsys.readouterr().out


def test_a_new_drawing_without_a_home_that_has_records_is_refused(folder, tmp_path, capsys):
    log_rows(folder, ("204", "2026-10-01", "inspection", "thorough-visual", "yes"))
    write_plan(made_plan(1, 3), tmp_path / "small.geojson")
    assert main(["plan", str(folder), "redraw", str(tmp_path / "small.geojson")]) == 2
    assert "the log has 1 rows of 204, which nothing would be known of" in capsys.readouterr().err


def test_an_office_keeps_changes_with_the_building(folder, tmp_path, capsys):
    pytest.importorskip("sqlalchemy")
    log_rows(folder, ("204", "2026-10-01", "inspection", "thorough-visual", "yes"))
    office = str(tmp_path / "office.db")
    for asked in (["office", "init", office], ["office", "add", office, str(folder), "--key", "house"]):
        assert main(asked) == 0
    assert main(["plan", f"{office}#house", "rename", "204", "204A", "--from", "2026-11-01"]) == 0
    building = load_building(f"{office}#house")
    assert [(r.unit, r.id) for r in building.log.rows] == [("204A", "r1")]
    assert [r.unit for r in building.store.log.rows] == ["204"], "the log is never rewritten"
    assert main(["office", "take-out", office, "house", str(tmp_path / "out")]) == 0
    out = load_building(tmp_path / "out")
    assert [(r.unit, r.id) for r in out.log.rows] == [("204A", "r1")]
    assert main(["plan", f"{office}#house", "undo"]) == 0
    assert "204" in load_building(f"{office}#house").plan.units
    capsys.readouterr()


def test_a_session_takes_rows_by_old_and_new_numbers_and_corrects_old_ones(folder):
    log_rows(folder, ("204", "2026-10-01", "inspection", "thorough-visual", "yes"),
             ("201", "2026-10-01", "inspection", "thorough-visual", "yes"))  # fmt: skip
    before = load_building(folder)
    x = before.plan.units["201"].parts["2"].centroid.x
    line = [[x + 1, -1], [x + 1, 20]]
    parted_too = change("split", unit="201", into=["201A", "201B"], floor="2", line=line)
    keep(before, with_more(before, [change("rename", unit="204", to="204A"), parted_too]))
    session = Session.of(load_building(folder), on=ON, settings=QUICK)
    assert session.chances()["204A"] > 0.5
    assert min(session.chances()["201A"], session.chances()["201B"]) > 0.5, "each part is held for the find"
    assert [r.was for r in session.why("201B").history] == ["201"]
    with pytest.raises(
        SpreadError, match=r"there is no unit '201'; it is '201A' and '201B' now|'201B' and '201A'"
    ):
        session.why("201")
    told_of = session.record({"unit": "204", "kind": "inspection", "method": "brief-visual", "found": "no"})
    assert told_of.new
    assert {r.unit for r in session.view.log.rows} == {"204A", "201A", "201B"}
    old = next(r for r in session.view.log.rows if r.was)
    session.record({"unit": "201A", "kind": "note", "note": "a slip", "supersedes": old.id})
    session.wait()
    assert [r.kind for r in session.view.log.of("201B")] == ["note"]
    assert session.building.store.log.rows[-1].unit == "201", (
        "it stands under the code of the row that it corrects"
    )


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (["rename", "999", "998", "--from", "2026-11-01"], "there is no such unit in the plan"),
        (["rename", "204", "203", "--from", "2026-11-01"], "there is a unit of that code"),
        (["merge", "201", "206", "201", "--from", "2026-11-01"], "share no straight wall"),
        (
            ["split", "204", "A", "B", "--from", "2026-11-01", "--line", "0,0", "0,1"],
            "the line does not part it",
        ),
        (["undo", "3"], "there is no change 3"),
        (["apply", "nowhere.jsonl"], "it cannot be read"),
    ],
)
def test_what_does_not_fit_is_one_sentence_and_writes_nothing(folder, capsys, asked, said):
    assert main(["plan", str(folder), *asked]) == 2
    told_so = capsys.readouterr().err.strip()
    assert said in told_so
    assert "\n" not in told_so
    assert not (folder / CHANGES_FILE).exists()


@pytest.mark.parametrize(
    "line",
    [b"[1", b"{}", b'{"step": "rename", "on": "x", "unit": "1", "to": "2"}',
     b'{"step": "merge", "on": "2026-11-01"}',
     b'{"step": "wall", "on": "2026-11-01", "a": "1", "b": "2", "floor": "1", "metres": 1e999}', b"\xff\xfe",
     b'{"step": "rename", "on": "2026-11-01", "unit": "1", "to": "2", "by": "somebody"}', b"[" * 100_000],
)  # fmt: skip
def test_a_spoilt_file_of_changes_is_refused_in_a_sentence(folder, line):
    (folder / CHANGES_FILE).write_bytes(line)
    with pytest.raises(SpreadError, match=r"plan_changes\.jsonl"):
        load_building(folder)


def test_a_phone_that_still_has_the_old_numbers_loses_no_answer(folder):
    from dashboard import create_app

    before = load_building(folder)
    x = before.plan.units["201"].parts["2"].centroid.x
    parted_too = change(
        "split", unit="201", into=["201A", "201B"], floor="2", line=[[x + 1, -1], [x + 1, 20]]
    )
    keep(before, with_more(before, [change("rename", unit="204", to="204A"), parted_too]))
    session = Session.of(load_building(folder), on=ON, settings=QUICK)
    client = create_app(session).server.test_client()
    key = client.post("/round/now", json={"building": ""}).get_json()["building"]["key"]
    sent = [
        {
            "id": f"00000000-0000-4000-8000-{number:012d}",
            "unit": unit,
            "answer": "nobody",
            "when": ON.isoformat(),
        }
        for number, unit in enumerate(("204", "201", "202"))
    ]
    reply = client.post("/round/answers", json={"building": key, "answers": sent}).get_json()
    session.wait()
    assert [one["ok"] for one in reply["replies"]] == [True] * 3, reply
    assert [row.unit for row in session.building.store.log.rows] == ["204", "201", "202"]
    assert {row.unit for row in session.view.log.rows} == {"204A", "201A", "201B", "202"}
