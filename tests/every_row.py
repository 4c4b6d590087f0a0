"""A walk of the registries through every command and page, whatever rows they hold.

It asserts what holds of any row and returns what was said, by place, for tests that know a row. As a script
(``python tests/every_row.py FOLDER MORE``) it first runs the Python file MORE, which may add rows as
DEVELOPERS.md tells, and prints what was said as JSON: nothing of the package but the rows is loaded before.
"""

import contextlib
import io
import json
import re
import runpy
import sys
from pathlib import Path

PRICES = "[material]\n{material} = 12\n\n[look]\n{look} = 11\n"
PROGRAMME = """name = "By {way}"
[survey]
method = "{way}"
every_weeks = 8
[treatment]
method = "{treatment}"
"""
ID = "00000000-0000-4000-8000-{:012d}"


def told(*argv):
    """Run a command; it must do it without a complaint."""
    from spread.cli import main

    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main([str(part) for part in argv])
    assert (code, err.getvalue()) == (0, ""), (argv, code, err.getvalue())
    return out.getvalue()


def walk(folder):
    """Take every row through a building that is drawn in ``folder``; return what was said by place."""
    import buildings

    from spread import session as at_session
    from spread.trade.registry import LOOKING, TREATMENTS
    from spread.trade.routes import BY_HAND

    at_session.FitSettings = lambda: buildings.SHORT
    ties = [("101", str(204 + place), route) for place, route in enumerate(BY_HAND)]
    links = "".join(
        f'\n[[links]]\na = "{a}"\nb = "{b}"\nroute = "{route}"\nwhy = "is tied by {route} to"\n'
        for a, b, route in ties
    )
    buildings.make_building(folder, buildings_rows(buildings), toml=buildings.TOML + links)
    on = ("--on", buildings.ON.isoformat())
    said = {"check": told("check", folder), "rates": told("rates", folder, *on)}
    said["why"] = "".join(told("why", folder, unit, *on) for _, unit, _ in ties)
    said["methods"] = told("methods", folder, "105", *on)
    record(folder, buildings, said, LOOKING, TREATMENTS)
    for way in LOOKING:
        said[f"doors {way}"] = told("doors", folder, "--method", way, *on)
        said[f"round {way}"] = told("round", folder, "--minutes", 60, "--method", way, *on)
    for name in ("fit", "past", "duties", "revisits", "doors"):
        said[name] = told(name, folder, *on)
    said["room"] = told("room", folder, "105", *on)
    said["treat"] = told("treat", folder, "103", *on)
    out = folder.parent
    said["sheets"] = told("sheets", folder, "--unit", "105", "-o", out / "sheets", *on)
    said["export"] = told("export", folder, "-o", out / "export", *on)
    compare(folder, on, said, LOOKING, TREATMENTS)
    pages(buildings.open_building(folder), said, LOOKING, TREATMENTS)
    return said


def every_row_is_said(said):
    """Hold that every row of today is asked for, weighed, counted and learned by its name."""
    from spread.trade.registry import LOOKING
    from spread.trade.route_rows import ROWS

    for way, row in LOOKING.items():
        assert f"looking by: {row.name.lower()}" in said[f"doors {way}"].lower()
        assert row.name.lower() in said[f"round {way}"].lower() or "setting up" in said[f"round {way}"]
        assert (row.carried_through in said["methods"]) == row.weighed
    for row in ROWS:
        assert row.contacts in said["check"], row.key
        assert row.name.lower() in said["rates"].lower(), row.key


def buildings_rows(made):
    return [
        made.find("101", 60, "moderate", method="thorough-visual", evidence="live"),
        made.treatment("101", 58),
        made.find("103", 12, "heavy", evidence="live"),
    ]


def record(folder, made, said, looking, treatments):
    """Each method as a row of the log, typed and imported, with each end it can have, and told again."""
    from spread.records.kinds import MONITORS

    lines = ["id,when,unit,kind,method,found,level,count,evidence,days,by,note,supersedes"]
    for number, (way, row) in enumerate(looking.items()):
        kind, days = ("monitor", 14) if way in MONITORS else ("inspection", "")
        words = []
        for found, unit in (("yes", "202"), ("no", "203"), ("unsure", "205")):
            day = made.day(200 - number).isoformat()
            given = ["--unit", unit, "--kind", kind, "--method", way, "--found", found, "--when", day]
            words.append(told("record", folder, *given, *(("--days", days) if days else ())))
        assert all(row.name in line for line in words), words
        assert row.not_found in words[1], words
        said[f"record {way}"] = "".join(words)
        lines.append(f"i-{number},{made.day(100 - number)},206,{kind},{way},no,,,,{days},,,")
    for number, way in enumerate(treatments):
        day = made.day(300 - number).isoformat()
        told("record", folder, "--unit", "206", "--kind", "treatment", "--method", way, "--when", day)
        lines.append(f"i-t{number},{made.day(150 - number)},206,treatment,{way},,,,,,,,")
    rows = folder.parent / "more.csv"
    rows.write_text("\n".join(lines) + "\n", encoding="utf-8")
    told("import", folder, rows)
    history = told("why", folder, "206", "--on", made.ON.isoformat())
    missing = [row.name for row in (*looking.values(), *treatments.values()) if row.name not in history]
    assert not missing, missing
    said["history"] = history


def compare(folder, on, said, looking, treatments):
    """Each method and each treatment as a programme of its own, with a price of its own."""
    from spread.programmes.columns import METHODS

    ways, cures = list(METHODS), list(treatments)
    for start in range(0, len(ways), 4):
        files = []
        for place, way in enumerate(ways[start : start + 4], start):
            files.append(folder.parent / f"by-{way}.toml")
            cure = cures[place % len(cures)]
            files[-1].write_text(PROGRAMME.format(way=way, treatment=cure), encoding="utf-8")
        prices = folder.parent / "own-prices.toml"
        look = ways[start] if ways[start] in looking else next(iter(looking))
        prices.write_text(PRICES.format(material=cures[start % len(cures)], look=look), encoding="utf-8")
        chosen = ",".join([*map(str, files), *(["complaint"] if len(files) == 1 else [])])
        options = ("--runs", 20, "--weeks", 26, "--prices", prices)
        said[f"compare {start}"] = told("compare", folder, "--programmes", chosen, *options, *on, "--json")
    said["compare"] = told(
        "compare", folder, "--programmes", f"complaint,{files[0]}", *options, "--drivers", *on
    )


def pages(session, said, looking, treatments):
    """The plan page, the phone's round and room, the week and the programmes."""
    from dashboard import create_app
    from dashboard.plan import view
    from dashboard.plan.layout import form_words
    from dashboard.round.addresses import building_key

    client = create_app(session).server.test_client()
    for address in ("/", "/week", "/programmes", "/round", "/room/105"):
        answer = client.get(address)
        assert answer.status_code == 200, (address, answer.status_code, answer.text[:300])
        said[address] = answer.text

    def phone(answers=(), **want):
        body = {"building": building_key(session), "answers": list(answers), "want": want}
        answer = client.post("/round/answers", json=body)
        assert answer.status_code == 200, (want, answer.text[:300])
        return answer.json

    words = form_words(session)
    assert {way for way, _ in words["methods"]} == set(looking)
    assert {way for way, _ in words["treatments"]} == set(treatments)
    said["plan form"] = json.dumps(words)
    said["panel"] = json.dumps([view.unit_panel(session, unit) for unit in ("204", "205")], default=str)
    for number, (way, row) in enumerate(looking.items()):
        listed = view.lists(session, {"method": way})
        assert (listed["method"], listed["method_words"]) == (way, row.name)
        offered = [key for key, _ in phone(method=way)["choices"]["methods"]]
        if way in offered:
            planned = phone(method=way)["round"]
            assert planned["method_words"] == row.name
            assert planned["alerts"] == (row.usual_sign == "alert")
            said[f"phone {way}"] = json.dumps(phone(method=way, unit="105"))
            given = {"id": ID.format(number), "unit": "105", "answer": "clear", "method": way}
            (reply,) = phone([given], method=way)["replies"]
            assert reply["ok"], reply
    room = client.get("/room/sheet.json").json
    said["room choices"] = json.dumps(room)
    text = json.dumps(room)
    for row in (*(r for r in looking.values() if r.by_eye), *treatments.values()):
        assert f'["{row.key}", ' in text, row.key
    for number, way in enumerate(treatments):
        given = {"id": ID.format(1000 + number), "unit": "106", "answer": "treated", "method": way}
        (reply,) = phone([given], room="106")["replies"]
        assert reply["ok"], reply
    start = {"programmes": ["complaint", "survey-dog"], "runs": 100, "weeks": 52}
    assert client.post("/programmes/start", json=start).json["ok"]
    assert client.application.extensions["programmes"].wait(60)
    now = client.post("/programmes/now", json={}).json
    assert (now["problem"], now["done"]) == ("", 100)
    keys = set(re.findall(r'name="([a-z]+\.[a-z-]+)"', said["/programmes"]))
    assert {f"look.{way}" for way in looking} | {f"material.{way}" for way in treatments} <= keys, keys
    session.wait()


if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parent)]
    runpy.run_path(sys.argv[2])
    print(json.dumps(walk(Path(sys.argv[1]))))
