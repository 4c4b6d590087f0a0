"""The record of a visit: what its cell keeps, what it refuses, and what no record may say."""

import json
import struct
from dataclasses import replace

import pytest
from buildings import CODES, ON, clear, find, make_building, report, row, treatment
from hypothesis import given
from hypothesis import strategies as st
from small import small_session

from dashboard import create_app
from spread import cli
from spread.building import load_building
from spread.decisions.case.job import job_record
from spread.errors import RecordError
from spread.records.cells import to_fields
from spread.records.jobs import job_problems, job_text, read_job
from spread.records.kinds import OPENED, PETS, PREPARED, Done, Job, Probe, Product
from spread.records.parse import record_from_fields
from spread.records.photographs import LARGEST, Photograph, cleaned, is_name
from spread.records.store import append_record
from spread.report import document as doc
from spread.report.document import texts_of
from spread.report.job_text import job_document
from spread.report.job_text import job_text as told_as_text
from spread.words import Voice

CELL = (
    "done: mattress at bed 1 + box-spring at bed 1; left: sofa; prepared: partly; pets: away; "
    "window: 09:00-12:00; opened: resident; product: Plain Dust, reg 1234-56; product: Spray B"
)

codes = st.from_regex(r"[a-z]{1,8}(-[a-z]{1,6})?", fullmatch=True)
words = st.from_regex(r"[A-Za-z][A-Za-z ]{0,18}[A-Za-z]", fullmatch=True).filter(
    lambda text: " at " not in text
)
steps = st.builds(Done, codes, st.sampled_from(["", "bed 1", "sofa"]))
jobs = st.builds(
    Job,
    done=st.lists(steps, max_size=5, unique=True).map(tuple),
    left=st.lists(steps, max_size=5, unique=True).map(tuple),
    prepared=st.sampled_from(["", *PREPARED]),
    pets=st.sampled_from(["", *PETS]),
    window=st.sampled_from(["", "09:00-12:00", "00:00-23:59"]),
    opened=st.sampled_from(["", *OPENED]),
    signature=st.sampled_from(["", "photos/k3f9a2b7c1.jpg"]),
    code=st.sampled_from(["", "4711", "AB-12"]),
    celsius=st.sampled_from([None, 19.5, -3.25, 7.0]),
    rooms=st.sampled_from([None, 1, 30]),
    heat=st.lists(words, max_size=3, unique=True).map(
        lambda places: tuple(Probe(place, ((0.0, 21.5), (2.25, 48.1))) for place in places)
    ),
    products=st.lists(st.builds(Product, words, st.sampled_from(["", "1234-56", "A/9"])), max_size=4).map(
        tuple
    ),
).filter(lambda job: job != Job())


# -- the cell


@pytest.mark.parametrize(
    "cell",
    [
        "signature: Maria Lopez", "signature: ../secret.jpg", "signature: photos/a b.jpg", "code: MARIA",
        "code: maria1", "code: 12", "code: 1234567890123", "room: warm", "room: 19.5", "room: 300 C",
        "rooms: 0", "rooms: 31", "rooms: " + "9" * 5000, "heat: bed", "heat: bed, 4 50, 4 51",
        "heat: bed, 4 999",
    ],
)  # fmt: skip
def test_what_is_no_signature_code_or_measure_is_refused_and_a_name_never_kept(cell):
    assert isinstance(read_job(cell), list)


def test_the_printed_record_shows_who_let_in_by_a_role_and_what_was_drawn():
    drawn = "photos/k3f9a2b7c1.jpg"
    treated = replace(treatment("101", 0), job=Job(opened="resident", signature=drawn, celsius=16.0))
    record = job_record([find("101", 3), treated], "101", ON)
    picture = Photograph(b"\xff\xd8\xff", 600, 220)
    page = job_document("Maple Row", record, photographs={drawn: picture}.get)
    (shown,) = (block for block in page.blocks if isinstance(block, doc.Picture))
    assert shown.caption.startswith("Signature of who let in: The resident")
    said = " ".join(texts_of(page))
    assert "16 C (61 F)" in said
    lines = [block.labels for block in page.blocks if isinstance(block, doc.Fill)]
    assert lines == [("Technician",)], "nobody signs twice"
    lost = " ".join(texts_of(job_document("Maple Row", record)))
    assert f"Not kept here: {drawn}." in lost
    code = replace(treatment("101", 0), job=Job(opened="staff", code="4711"))
    told = " ".join(texts_of(job_document("Maple Row", job_record([code], "101", ON))))
    assert "Code of who let in 4711" in told


def test_a_cell_says_what_was_done():
    job = read_job(CELL)
    assert isinstance(job, Job)
    assert job.done == (Done("mattress", "bed 1"), Done("box-spring", "bed 1"))
    assert job.products == (Product("Plain Dust", "1234-56"), Product("Spray B"))
    assert job_text(job) == CELL


@given(jobs)
def test_a_job_comes_back_from_its_cell(job):
    assert read_job(job_text(job)) == job
    assert job_problems(job) == []


@given(
    st.sampled_from(["Dust", "Spray B", "Foam 3"]),
    st.integers(1, 999),
    st.sampled_from(["ml", "%", " oz", " fl oz", "g", " kg", " ppm", " gal", " l", " lb", "mg", " litres"]),
)
def test_how_much_is_never_kept(name, number, unit):
    for text in (f"product: {name} {number}{unit}", f"product: {name}, reg {number}{unit}"):
        wrong = read_job(text)
        assert isinstance(wrong, list)
        assert "how much" in wrong[0][1]


@pytest.mark.parametrize(
    "cell",
    [
        "done: Mattress!", "done: mattress at ", "done: a + a", "done: a; done: b", "prepared: perhaps",
        "window: 12:00-09:00", "window: 9-12", "opened: Mrs Smith", "pets: two cats", "who: nobody", "done",
        "product: ", "product: Dust, reg a b c", f"product: {'x' * 61}", "x" * 8001,
    ],
)  # fmt: skip
def test_what_a_cell_cannot_mean_is_said_in_a_sentence(cell):
    wrong = read_job(cell)
    assert isinstance(wrong, list)
    assert all(field == "job" and what and fix for field, what, fix in wrong)


def test_only_a_treatment_has_a_job():
    fields = to_fields(clear("101", 3)) | {"job": CELL}
    with pytest.raises(RecordError, match="no treatment"):
        record_from_fields(fields, {"101"})


# -- photographs


def jpeg(*extra, scan=b"\x01\x02", end=b"\xff\xd9"):
    """A JPEG file by its markers (ITU-T T.81): what is in the scan does not matter here."""

    def segment(mark, body):
        return bytes((0xFF, mark)) + struct.pack(">H", len(body) + 2) + body

    frame = segment(0xC0, struct.pack(">BHHB", 8, 30, 40, 1) + b"\x01\x11\x00")
    return (
        b"\xff\xd8"
        + b"".join(segment(m, b) for m, b in extra)
        + frame
        + segment(0xDA, b"\x01\x01\x00\x00\x3f\x00")
        + scan
        + end
    )


GPS = b"Exif\0\0GPSLatitude 52.1"


def test_a_photograph_keeps_the_picture_and_nothing_else():
    plain = jpeg((0xE0, b"JFIF\0\1\1\0\0\1\0\1\0\0"))
    told = cleaned(
        jpeg((0xE0, b"JFIF\0\1\1\0\0\1\0\1\0\0"), (0xE1, GPS), (0xED, b"Photoshop"), (0xFE, b"by me"))
    )
    assert told.data == plain
    assert (told.width, told.height) == (40, 30)
    behind = cleaned(jpeg((0xE1, GPS), end=b"\xff\xd9" + GPS + b"\xff\xd9"))
    assert GPS not in behind.data


@given(st.binary(max_size=200))
def test_what_is_no_photograph_is_refused_in_a_sentence(data):
    for sent in (data, b"\xff\xd8" + data, b"\xff\xd8" + data + b"\xff\xd9", jpeg()[:-4] + data):
        try:
            kept = cleaned(sent)
        except RecordError:
            continue
        assert kept.data.startswith(b"\xff\xd8")
        assert kept.data.endswith(b"\xff\xd9")
        assert (kept.width, kept.height) == (kept.width, kept.height) != (0, 0)


def test_a_photograph_that_is_too_large_is_refused():
    with pytest.raises(RecordError, match="smaller"):
        cleaned(jpeg(scan=b"\0" * LARGEST))


@pytest.mark.parametrize(
    "name",
    [
        "photos/../records.csv",
        "records.csv",
        "photos/a.jpg",
        "photos/ABCDEFGHIJ.jpg",
        "/photos/abcdefgh.jpg",
        "photos/abcdefgh.png",
        "photos/abcdefgh.jpg\n",
    ],
)
def test_only_names_that_a_phone_gives_are_names(name):
    assert not is_name(name)
    assert is_name("photos/0123abcd-ef45.jpg")


# -- the record of a day


def job_row(unit="101", ago=0, cell=CELL, **more):
    return record_from_fields(to_fields(treatment(unit, ago, **more)) | {"job": cell}, {unit})


def words_of(rows, unit="101"):
    record = job_record(rows, unit, ON)
    return record, " ".join(texts_of(job_document("Elm Court", record))) + told_as_text("Elm Court", record)


def test_the_record_names_steps_products_and_what_was_left_undone():
    _, told = words_of([find("101", 3), job_row()])
    for part in (
        "2 of 3 steps",
        "Sofa",
        "left undone",
        "Plain Dust (registration number 1234-56)",
        "not written down",
        "09:00-12:00",
        "The resident",
        "Partly",
        "Pets kept away",
        "No row says that the resident was given the result",
    ):
        assert part in told, part


def test_a_day_without_a_row_has_no_record():
    assert job_record([find("101", 3)], "101", ON) is None


kinds = st.sampled_from(["find", "clear", "treat", "job", "report", "told"])


@given(st.lists(st.tuples(kinds, st.integers(0, 200)), min_size=1, max_size=14))
def test_no_record_of_a_visit_clears_or_says_that_nobody_has_to_come(events):
    """Whatever was written down: the paper of one day never says cleared, free, safe or that it is over."""
    made = {
        "find": find,
        "clear": clear,
        "treat": treatment,
        "report": report,
        "job": job_row,
    }
    rows = [
        row("101", ago, "note", "result-notice") if kind == "told" else made[kind]("101", ago)
        for i, (kind, ago) in enumerate(events)
    ]
    rows = [record_from_fields(to_fields(one) | {"id": f"r{i}"}, {"101"}) for i, one in enumerate(rows)]
    rows.append(record_from_fields(to_fields(clear("101", 0)) | {"id": "last"}, {"101"}))
    _, told = words_of(rows)
    low = told.lower()
    for word in (
        "is clear",
        "is cleared",
        "bug-free",
        "free of",
        "no bugs are left",
        "is safe",
        "successful",
        "nobody has to come",
    ):
        assert word not in low
    assert "clears no unit" in low
    given = any(kind == "told" and ago == 0 for kind, ago in events)
    assert ("was given to the resident" in told) == given


def test_spanish_says_no_english_word_of_the_record():
    record = job_record([find("101", 3), job_row()], "101", ON)
    told = told_as_text("Elm Court", record, Voice("es"))
    for word in ("steps", "Products", "Left undone", "Let in by", "registration", "Next visit"):
        assert word not in told


# -- over the server and the command line


@pytest.fixture
def served(tmp_path):
    session = small_session(tmp_path)
    client = create_app(session).server.test_client()
    key = client.post("/round/answers", json={}).get_json()["building"]["key"]
    return session, client, key


def give(client, key, **answer):
    return client.post("/round/answers", json={"building": key, "answers": [answer]}).get_json()["replies"][0]


def test_a_phone_records_a_treatment_with_its_job(served):
    session, client, key = served
    unit = next(iter(session.plan.units))
    job = {
        "done": [{"item": "mattress", "place": "bed"}], "left": [{"item": "sofa"}], "prepared": "yes",
        "products": [{"name": "Plain Dust", "registration": "1234-56"}], "window": "09:00-12:00",
    }  # fmt: skip
    reply = give(client, key, id="treated-1", unit=unit, answer="treated", method="combined", job=job)
    assert reply["ok"], reply
    assert session.building.log.by_id["treated-1"].job == Job(
        (Done("mattress", "bed"),),
        (Done("sofa"),),
        "yes",
        "",
        "09:00-12:00",
        "",
        (Product("Plain Dust", "1234-56"),),
    )
    again = give(client, key, id="treated-1", unit=unit, answer="treated", method="combined", job=job)
    assert again["ok"]
    assert not again["new"]
    said = give(client, key, id="told-result-1", unit=unit, answer="told")
    assert said["ok"], said
    paper = client.get(f"/round/visit/{unit}").get_data(as_text=True)
    assert "Plain Dust" in paper
    assert "was given to the resident" in paper
    assert client.get(f"/round/visit/{unit}?as=pdf").data.startswith(b"%PDF")
    assert client.get("/round/visit/nobody").status_code == 404
    assert client.get(f"/round/visit/{unit}?on=yesterday").status_code == 400


@pytest.mark.parametrize(
    "job",
    [
        {"done": [{"item": "moon"}]}, {"products": [{"name": "Dust 5 ml"}]}, {"prepared": "perhaps"},
        {"done": [{"item": "mattress"}, {"item": "mattress"}]}, {"window": "noon"},
        {"opened": "a; done: sofa"},
    ],
)  # fmt: skip
def test_a_job_that_cannot_be_kept_is_refused_and_leaves_no_row(served, job):
    session, client, key = served
    before = len(session.building.log.rows)
    reply = give(
        client,
        key,
        id="refused-1",
        unit=next(iter(session.plan.units)),
        answer="treated",
        method="combined",
        job=job,
    )
    assert not reply["ok"]
    assert "number" not in reply["words"]  # it is the job that is refused
    assert len(session.building.log.rows) == before


def test_a_photograph_is_kept_once_without_its_place(served):
    _, client, key = served
    name, picture = "photos/0123456789ab.jpg", jpeg((0xE1, GPS))

    def put(data=picture, name=name, building=key, kind="image/jpeg"):
        return client.post(f"/photographs/{name}?building={building}", data=data, content_type=kind)

    assert put().get_json() == {"ok": True, "new": True}
    assert put().get_json() == {"ok": True, "new": False}
    assert put(data=jpeg(scan=b"other")).get_json()["new"] is False  # what is kept under a name stays
    assert client.get(f"/photographs/{name}").data == jpeg()
    assert put(building="other").status_code == 409
    assert put(name="photos/x.jpg").status_code == 400
    assert put(kind="image/png").status_code == 400
    assert put(data=b"GIF89a", name="photos/aaaaaaaaaa.jpg").status_code == 422
    assert put(data=b"\0" * (LARGEST + 5000), name="photos/bbbbbbbbbb.jpg").status_code == 413
    assert client.get("/photographs/photos/aaaaaaaaaa.jpg").status_code == 404
    assert client.get("/photographs/records.csv").status_code == 404


def test_the_command_prints_the_record(tmp_path, capsys):
    folder = make_building(tmp_path / "maple", [find("101", 3)])
    append_record(folder / "records.csv", job_row(), CODES)
    assert cli.main(["visit", str(folder), "101", "--on", ON.isoformat()]) == 0
    assert "2 of 3 steps" in capsys.readouterr().out
    assert (
        cli.main(
            [
                "visit",
                str(folder),
                "101",
                "--on",
                ON.isoformat(),
                "--json",
                "--html",
                str(tmp_path / "v.html"),
            ]
        )
        == 0
    )
    assert json.loads(capsys.readouterr().out)["facts"]["unit"] == "101"
    assert "Plain Dust" in (tmp_path / "v.html").read_text()
    assert cli.main(["visit", str(folder), "101", "--on", "2020-01-01"]) == 2
    assert "no row of 2020-01-01" in capsys.readouterr().err
    assert load_building(folder).log.of("101")[-1].job is not None
