"""Messy tables of five invented hands, each with its truth: what happened, before it was written down badly.

``python tests/data/tables/make.py`` writes them anew, always the same. The truth comes from the events, never
from reading the tables. XLS and ODS are written by LibreOffice (``soffice``), where it is installed; those
that are checked in were written by LibreOffice 7.4. All of it is invented; there are no people in it.
"""

from __future__ import annotations

import csv
import datetime as dt
import json
import random
import shutil
import subprocess
from pathlib import Path

from openpyxl import Workbook
from openpyxl.styles import Font

HERE = Path(__file__).parent
EPOCH = dt.date(1899, 12, 30)
ROLL = "Rent roll of 140 units, a leasing office"
CODES = [f"{floor}{n:02d}" for floor in range(1, 8) for n in range(1, 21)]
SIZES = {"1BR/1BA": 640, "2BR/1BA": 870, "Studio": 455, "3BR/2BA": 1140}


def save(rows, name, merged=(), sheets=(), widths=True):
    """Write rows as XLSX, or by LibreOffice as what the name ends with."""
    book = Workbook()
    book.active.title = "Sheet1"
    for row in rows:
        book.active.append([None if cell == "" else cell for cell in row])
    for span in merged:
        book.active.merge_cells(span)
    book.active["A1"].font = Font(bold=True)
    for title, more in sheets:
        other = book.create_sheet(title)
        for row in more:
            other.append(row)
    path = HERE / name
    if path.suffix == ".xlsx":
        book.save(path)
        return
    plain = HERE / "made" / f"{path.stem}.xlsx"
    plain.parent.mkdir(exist_ok=True)
    book.save(plain)
    command = ["soffice", "--headless", "--convert-to", path.suffix[1:], "--outdir", str(HERE), str(plain)]
    subprocess.run(command, check=True, capture_output=True)
    shutil.rmtree(plain.parent)


def save_text(rows, name, separator=","):
    with (HERE / name).open("w", encoding="utf-8", newline="") as file:
        csv.writer(file, delimiter=separator, lineterminator="\n").writerows(rows)


def truth(name, **parts):
    text = json.dumps(parts, indent=None, ensure_ascii=False)
    text = text.replace("], [", "],\n[").replace('}, "', '},\n"')
    (HERE / f"{name}.truth.json").write_text(text + "\n", encoding="utf-8")


def american(day, chance):
    """Return a day as an American writes it: not always the same way."""
    kind = chance.random()
    if kind < 0.6:
        return f"{day.month}/{day.day}/{day.year}"
    if kind < 0.85:
        return f"{day.month}/{day.day}/{day:%y}"
    return f"{day:%b} {day.day}, {day.year}"


# -- the first hand: a leasing office's rent roll, headings in two rows, totals, and a page break


def roll(name, day, vacant, later=None):
    chance = random.Random(11)
    rows = [
        ["Sample Court Apartments LLC"],
        ["Rent Roll with Lease Charges"],
        [f"As Of: {day.month:02d}/{day.day:02d}/{day.year}", "", "", "", "", "", "", "", ""],
        [],
        ["Bldg", "Apt #", "Flr", "Unit", "Sq", "", "Market", "Move", "Lease"],
        ["", "", "", "Type", "Ft", "Status", "Rent", "In", "End"],
    ]
    headings = rows[4:6]
    units, moves = [], []
    for at, code in enumerate(CODES):
        kind = chance.choice(list(SIZES))
        feet = SIZES[kind] + chance.choice((0, 0, 10, 25))
        came = dt.date(2026, 10, 1) - dt.timedelta(days=chance.randrange(20, 3000))
        empty = code in vacant
        lived = "Notice - Unrented" if chance.random() < 0.06 else "Occupied"
        ready = chance.choice(("Vacant - Ready", "Vacant - Not Ready"))
        status = ready if empty else lived
        floor = code[0] if chance.random() < 0.3 else ""
        moved = later.get(code, came) if later else came
        rows.append(
            ["1", f"{code}", floor, kind, f"{feet:,}" if chance.random() < 0.5 else feet, status,
             f"{feet * 2.1:,.2f}", "" if empty else f"{moved.month:02d}/{moved.day:02d}/{moved.year}",
             "" if empty else f"{moved.month:02d}/{moved.day:02d}/2027"]
        )  # fmt: skip
        units.append([code, code[0], round(feet * 0.09290304, 1)])
        moves.append([code, "moved-out", day.isoformat()] if empty else [code, "moved-in", moved.isoformat()])
        if at in (48, 97):  # the printer's page
            rows += [[f"Page {1 + at // 48}"], [], *headings]
    rows += [
        ["Total", "140 Units", "", "", f"{sum(SIZES.values()) * 35:,}", "", "184,000.00"],
        [],
        ["End of report"],
    ]
    answers = {
        "roll": {
            "Bldg": "building", "Apt #": "unit", "Flr": "floor", "Unit Type": "layout",
            "Sq Ft": "area sq ft", "Status": "occupancy", "Market Rent": "leave out",
            "Move In": "moved in", "Lease End": "leave out",
        },
        "occupancy": {
            "Vacant - Ready": "vacant", "Vacant - Not Ready": "vacant", "Occupied": "lived in",
            "Notice - Unrented": "lived in",
        },
        "list": {"floors": "before the last two digits", "vacant since": "the day in the list's title"},
        "days": {"the list's title": "month first"},
    }  # fmt: skip
    save(rows, name, merged=("A1:I1", "A2:I2"))
    truth(name, hand=ROLL, sort="roll", day=day.isoformat(), units=units, moves=moves, answers=answers)


# -- the second hand: the manager's own notes of a year, typed as they came


SAY = {  # wording: kind, method, found, level
    "BB found heavy": ("inspection", "brief-visual", "yes", "heavy"),
    "BB found - light": ("inspection", "brief-visual", "yes", "low"),
    "BBs found": ("inspection", "brief-visual", "yes", ""),
    "no BB seen": ("inspection", "brief-visual", "no", ""),
    "nothing found": ("inspection", "brief-visual", "no", ""),
    "possible BB?": ("inspection", "brief-visual", "unsure", ""),
    "K9 alert": ("inspection", "dog", "yes", ""),
    "K9 clear": ("inspection", "dog", "no", ""),
    "tenant refused": ("no-access", "refused", "", ""),
    "no answer": ("no-access", "nobody-home", "", ""),
    "heat treated": ("treatment", "whole-room-heat", "", ""),
    "sprayed": ("treatment", "spray", "", ""),
    "tenant complained of bites": ("report", "", "yes", ""),
    "moved out": ("turnover", "moved-out", "", ""),
    "called office": None,
}
WEIGHTS = (14, 12, 10, 34, 20, 6, 12, 30, 16, 22, 8, 16, 14, 1, 8)


def words_of(say):
    return {
        wording: ", ".join(filter(None, meaning)) if meaning else "leave out"
        for wording, meaning in say.items()
    }


def dressed(wording, chance):
    """Return a wording as somebody in a hurry types it; it stays the same wording."""
    kind = chance.random()
    if kind < 0.1:
        return wording.upper()
    if kind < 0.2:
        return wording + "."
    if kind < 0.28:
        return "  " + wording.replace(" ", "  ")
    return wording[0].upper() + wording[1:] if kind < 0.4 else wording


def manager_notes(name, first, count, seed, typos):
    chance = random.Random(seed)
    rows = [
        ["Pest log - Sample Court (do not delete!!)"],
        [],
        ["Apt", "Date", "Resident", "Result", "Tech", "Remarks"],
    ]
    records, seen, gone, last = [], {}, set(), None
    slips = dict(zip(sorted(chance.sample(range(10, count - 10), len(typos))), typos, strict=True))
    repeats = set(
        chance.sample([at for at in range(20, count - 5) if at not in slips], 4 if count > 100 else 0)
    )
    day = first
    for at in range(count):
        if at in repeats and last:
            rows.append(last)
            continue
        day += dt.timedelta(days=chance.choice((0, 1, 1, 2, 2, 3)) if count > 100 else 1)
        unit = chance.choice(CODES)
        wording = chance.choices(list(SAY), WEIGHTS)[0]
        if wording == "moved out" and unit in gone:
            wording = "no answer"
        gone |= {unit} if wording == "moved out" else set()
        written = chance.choice((unit, unit, unit, f"Apt {unit}", f"#{unit}"))
        if at in slips:
            unit, written = slips[at]
        if (unit, day, wording) in seen:
            wording = "called office"
        seen[unit, day, wording] = True
        tech = chance.choice(("T4", "T4", "T7", "sub"))
        last = [written, american(day, chance), "(left out)", dressed(wording, chance), tech,
                chance.choice(("", "", "", "see ticket", "hallway light out"))]  # fmt: skip
        rows.append(last)
        if SAY[wording] and unit:
            records.append([len(rows), unit, day.isoformat(), *SAY[wording]])
        if at % 60 == 59:
            rows.append([])
    rows.append(["Total visits", "", "", str(count), "", ""])
    answers = {
        "columns": {"Apt": "unit", "Date": "day", "Resident": "leave out", "Result": "words", "Tech": "by",
                    "Remarks": "note"},
        "words": words_of(SAY),
        "units": {written: unit or "leave out" for unit, written in typos},
    }  # fmt: skip
    save(rows, name) if name.endswith("xlsx") else save_text(rows, name)
    truth(name, hand="A manager's own notes, typed as they came", sort="notes", units=CODES, records=records,
          answers=answers)  # fmt: skip


# -- the third hand: a pest firm's service export, an old workbook with day numbers and codes


FIRM = {
    "INSP-POS": ("inspection", "thorough-visual", "yes", ""),
    "INSP-NEG": ("inspection", "thorough-visual", "no", ""),
    "CANINE POS": ("inspection", "dog", "yes", ""),
    "CANINE NEG": ("inspection", "dog", "no", ""),
    "MON CHK - CAPTURE": ("monitor", "interceptors", "yes", ""),
    "MON CHK - NO CAPTURE": ("monitor", "interceptors", "no", ""),
    "SVC - LIQUID": ("treatment", "spray", "", ""),
    "SVC - THERMAL": ("treatment", "whole-room-heat", "", ""),
    "UNABLE TO SERVICE (ACCESS)": ("no-access", "nobody-home", "", ""),
    "RESCHEDULED BY OFFICE": None,
}
SEVERE = {"1": "trace", "2": "low", "3": "moderate", "4": "heavy"}


def service_export(name, first, count, seed):
    chance = random.Random(seed)
    rows = [
        ["SERVICE HISTORY EXPORT", "", "", "", "", "", ""],
        ["Acct 00417", "", "", "", "", "Generated 46340"],
        ["Svc Date", "Unit No", "Contact Name", "Outcome", "Severity", "Tech ID", "Invoice Balance"],
    ]
    records, day, seen = [], first, set()
    while len(rows) < count + 3:
        day += dt.timedelta(days=chance.choice((0, 0, 1, 4)))
        unit = chance.choice(CODES[:60])
        wording = chance.choice(list(FIRM))
        if (unit, day) in seen:
            continue
        seen.add((unit, day))
        meaning = FIRM[wording]
        level = chance.choice(list(SEVERE)) if meaning and meaning[2] == "yes" else ""
        rows.append([(day - EPOCH).days, int(unit), "(left out)", wording, level,
                     f"K{chance.randrange(3, 6)}", chance.randrange(80, 300)])  # fmt: skip
        if meaning:
            records.append([len(rows), unit, day.isoformat(), *meaning[:3], SEVERE.get(level, "")])
    answers = {
        "columns": {"Svc Date": "day", "Unit No": "unit", "Contact Name": "leave out", "Outcome": "words",
                    "Severity": "level", "Tech ID": "by", "Invoice Balance": "leave out"},
        "words": words_of(FIRM), "level": SEVERE,
    }  # fmt: skip
    save(rows, name, sheets=[("Codes", [["Code", "Meaning"], ["POS", "positive"]])])
    truth(name, hand="A pest firm's service export, an old workbook", sort="notes", units=CODES,
          records=records, answers=answers)  # fmt: skip


# -- the fourth hand: a European housing office's list, days first, years of two digits


EURO = {
    "inspection: live activity": ("inspection", "thorough-visual", "yes", ""),
    "inspection: no evidence": ("inspection", "thorough-visual", "no", ""),
    "old marks only, unclear": ("inspection", "thorough-visual", "unsure", ""),
    "nobody at home": ("no-access", "nobody-home", "", ""),
    "entry denied": ("no-access", "refused", "", ""),
    "steam and dusting done": ("treatment", "steam-dust-encase", "", ""),
    "letter sent": None,
}


def european_list(name, count, seed):
    chance = random.Random(seed)
    rows = [["Flat", "Visit date", "What was done", "Phone", "Severity"]]
    records, day, seen = [], dt.date(2025, 12, 2), set()
    level = {"weak": "low", "strong": "heavy", "medium": "moderate"}
    while len(rows) < count + 1:
        day += dt.timedelta(days=chance.choice((1, 2, 7)))
        unit = chance.choice(CODES[60:])
        wording = chance.choice(list(EURO))
        if (unit, day) in seen:
            continue
        seen.add((unit, day))
        how = chance.choice(list(level)) if "live" in wording else ""
        rows.append([f"Flat {unit[0]}/{unit[1:]}", f"{day:%d.%m.%y}", wording, "0000", how])
        if meaning := EURO[wording]:
            records.append([len(rows), unit, day.isoformat(), *meaning[:3], level.get(how, meaning[3])])
    answers = {
        "columns": {"Flat": "unit", "Visit date": "day", "What was done": "words", "Phone": "leave out",
                    "Severity": "level"},
        "words": words_of(EURO), "level": level, "days": {"Visit date": "day first"},
    }  # fmt: skip
    save(rows, name)
    truth(name, hand="A European housing office's list", sort="notes",
          units=[f"{c[0]}/{c[1:]}" for c in CODES],
          records=[[n, f"{u[0]}/{u[1:]}", *more] for n, u, *more in records], answers=answers)  # fmt: skip


# -- the fifth hand: a caretaker's sheet, merged titles for each month, totals, rows copied twice


CARE = {
    "found some": ("inspection", "brief-visual", "yes", ""),
    "looked, all good": ("inspection", "brief-visual", "no", ""),
    "still clear": ("inspection", "brief-visual", "no", ""),
    "cups: 0": ("monitor", "interceptors", "no", ""),
    "cups: some": ("monitor", "interceptors", "yes", ""),
    "not let in": ("no-access", "refused", "", ""),
    "new family moved in": ("turnover", "moved-in", "", ""),
    "bagged laundry handed out": None,
}


def caretaker_sheet(name, seed):
    chance = random.Random(seed)
    rows = [["HOUSE 1 - BUGS"], ["kept by the caretaker"], []]
    merged, records = ["A1:E1"], []
    head = ["When", "Apt", "What", "2nd thing", "who"]
    rows.append(head)
    for month in range(3, 10):
        rows.append([f"{dt.date(2026, month, 1):%B}"])
        merged.append(f"A{len(rows)}:E{len(rows)}")
        days = sorted(chance.sample(range(1, 28), 9))
        for day in days:
            unit = chance.choice(CODES)
            first = chance.choice(list(CARE))
            second = chance.choice(("", "", "cups: 0", "cups: some")) if "cups" not in first else ""
            when = dt.date(2026, month, day)
            row = [when, int(unit), first, second, chance.choice(("c1", "C1", "me"))]
            rows.append(row)
            for wording in filter(None, (first, second)):
                if CARE[wording]:
                    records.append([len(rows), unit, when.isoformat(), *CARE[wording]])
            if chance.random() < 0.12:
                rows.append(row)
        rows += [["Total", "", f"{len(days)} visits"], []]
        if month == 6:
            rows.append(head)
    answers = {
        "columns": {"When": "day", "Apt": "unit", "What": "words", "2nd thing": "words", "who": "by"},
        "words": words_of(CARE),
    }
    save(rows, name, merged=merged, sheets=[("phone list", [["who", "number"]])])
    truth(name, hand="A caretaker's sheet with a title a month", sort="notes", units=CODES, records=records,
          answers=answers)  # fmt: skip


if __name__ == "__main__":
    for kind in ("xls", "ods"):
        save([["unit", "floor", "area_m2"], ["0101", "1", 48.5], ["0102", "1", 52]], f"our-columns.{kind}")
    roll("roll-140.xlsx", dt.date(2026, 11, 1), {"112", "218", "305", "306", "520", "711"})
    roll("roll-140-next.xls", dt.date(2026, 11, 28), {"112", "305", "306", "520", "711"},
         {"218": dt.date(2026, 11, 15)})  # fmt: skip
    manager_notes(
        "notes-204.xlsx", dt.date(2025, 11, 3), 204, 5, [("304", "3O4"), ("611", "61l"), ("", "laundry")]
    )
    manager_notes("notes-next.csv", dt.date(2026, 10, 20), 38, 6, [])
    service_export("service-export.xls", dt.date(2026, 1, 5), 90, 7)
    european_list("european-list.ods", 64, 8)
    caretaker_sheet("caretaker.xlsx", 9)
