"""The proposal: what stands in it, that its figures agree, and how bad input ends."""

import re
import shutil
from pathlib import Path

import numpy as np
import pytest
from small import BRIEF

from spread import cli
from spread.report.charts import Path as Band
from spread.report.charts import band_panels, tick_step
from spread.report.own_words import Firm, read_firm
from spread.report.proposal import log_words

DEMO = Path(__file__).parent.parent / "demo_buildings" / "tolliwick-gardens"
QUICK = ["--on", "2026-11-20", "--weeks", "26", "--runs", "40"]


@pytest.fixture(scope="module", autouse=True)
def brief():
    """Fit briefly: these tests are about what is said of the runs, whatever they say."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr("spread.session.FitSettings", lambda: BRIEF)
        yield


@pytest.fixture(scope="module")
def building(tmp_path_factory):
    folder = tmp_path_factory.mktemp("work") / "tolliwick"
    shutil.copytree(DEMO, folder)
    (folder / "firm.toml").write_text('name = "Hart & Daughters (invented)"\nphone = "555 0100"\n')
    return folder


@pytest.fixture(scope="module")
def written(building):
    out = building.parent / "out"
    code = cli.main(
        ["proposal", str(building), "-o", str(out), "--programmes", "complaint,complaint-ranked", *QUICK]
    )
    assert code == 0
    return out


def test_the_pdf_has_four_pages_or_fewer_and_every_section(written):
    pypdf = pytest.importorskip("pypdf")
    reader = pypdf.PdfReader(written / "proposal.pdf")
    assert 3 <= len(reader.pages) <= 4
    text = " ".join(page.extract_text() for page in reader.pages)
    for heading in (
        "The building today", "What we know, and how", "Programmes side by side", "Price",
        "Schedule", "Duties under the rules", "Who does what", "What ends it", "Limits and cautions",
        "Sources", "Hart & Daughters (invented)", "How the proposed one compares",
    ):  # fmt: skip
        assert heading in text, heading
    first = reader.pages[0].extract_text()
    for words in ("In short", "Price", "What would make this wrong", "For the owner", "at the end of week"):
        assert words in first, "what is signed stands on the first page"
    assert not re.search(r"\.toml|from memory", text)


def test_one_row_of_a_kind_is_told_in_the_singular():
    assert log_words({"treatment": 1, "no-access": 2, "note": 4}) == "1 treatment, 2 visits without access"


def test_the_page_needs_nothing_from_outside_and_says_what_is_not_sure(written):
    html = (written / "proposal.html").read_text(encoding="utf-8")
    assert not re.search(r'(src|href)="?https?://', html)
    assert "No programme promises nil" in html
    assert "not legal advice" in html


def test_every_figure_of_the_table_is_that_of_compare_with_its_simulation_error(written, building, capsys):
    """Same seed, two commands: the medians, bands and errors that one prints stand in the other's table."""
    capsys.readouterr()
    cli.main(["compare", str(building), "--programmes", "complaint,complaint-ranked", *QUICK])
    said = capsys.readouterr().out
    html = (written / "proposal.html").read_text(encoding="utf-8").replace("\N{NO-BREAK SPACE}", " ")
    table = html[html.index("Middle of the runs ") : html.index("How the proposed one compares")]
    number = r"([\d,.]+)"
    found = re.findall(rf"^ +(\S.*?)  +(?:US\$ )?{number} \({number} to {number}\) \+- {number}$", said, re.M)
    seen = {}
    for label, middle, low, high, error in found:
        if low != high and f">{label}<" in table:
            assert f"{middle} \N{PLUS-MINUS SIGN} {error} ({low} to {high})" in table, label
            seen[label] = seen.get(label, 0) + 1
    assert len(seen) >= 5
    assert set(seen.values()) <= {1, 2}
    rows = re.findall(r"<tr>(<td.*?)</tr>", table)
    assert len(rows) == 8, "four figures, cost, cost with what is left, and both chances of nil"
    for row in rows:
        cells = [re.sub("<.*?>", "", cell) for cell in row.split("</td>")[1:-1]]
        assert len(cells) == 2
        # A figure that is the same in every run has no error to show.
        assert all(
            "\N{PLUS-MINUS SIGN}" in cell or re.fullmatch(rf"(US\$ )?{number}|&?[lg<>t;]*\d+%", cell)
            for cell in cells
        )


@pytest.mark.parametrize(
    ("more", "what"),
    [
        (["--choose", "nothing-like-it"], "--choose"),
        (["--programmes", "complaint"], "--programmes"),
        (["--programmes", "complaint,no-such"], "no-such"),
        (["--runs", "3"], "--runs"),
        (["--firm", "missing.toml"], "missing.toml"),
    ],
)
def test_bad_input_is_one_sentence_and_writes_nothing(building, tmp_path, capsys, more, what):
    out = tmp_path / "none"
    assert cli.main(["proposal", str(building), "-o", str(out), *QUICK, *more]) == 2
    said = capsys.readouterr().err
    assert what in said
    assert "Traceback" not in said
    assert not out.exists()


def test_what_is_there_is_not_written_over(written, building, capsys):
    before = (written / "proposal.pdf").read_bytes()
    assert cli.main(["proposal", str(building), "-o", str(written), *QUICK]) == 2
    assert "--replace" in capsys.readouterr().err
    assert (written / "proposal.pdf").read_bytes() == before


def test_a_firm_file_says_what_is_wrong_in_it(tmp_path):
    path = tmp_path / "firm.toml"
    assert read_firm(path) == Firm()
    path.write_text('nmae = "x"\nphone = 3\n')
    with pytest.raises(Exception, match="nmae") as caught:
        read_firm(path)
    assert "'name'" in str(caught.value)
    assert "phone" in str(caught.value)


def test_a_band_reaches_exactly_its_points():
    """Hand case: one week, a scale of 0 to 10 over a panel whose height is known."""
    bands = np.array([[0.0, 0.0], [2.5, 2.5], [5.0, 5.0], [7.5, 7.5], [10.0, 10.0]])
    drawn = band_panels([Band("A & B", bands)], upright="units", along="weeks")
    assert "A &amp; B" in drawn
    line = re.search(r'<polyline points="([^"]+)"', drawn)[1].split()
    outer = re.search(r'<polygon points="([^"]+)"', drawn)[1].split()
    ys = [float(point.split(",")[1]) for point in outer]
    assert {float(point.split(",")[1]) for point in line} == {(min(ys) + max(ys)) / 2}


@pytest.mark.parametrize("top", [1, 3, 7.2, 10, 44, 99, 512, 41_698, 1e6])
def test_a_scale_has_three_to_seven_round_steps(top):
    step = tick_step(top)
    assert 3 <= top / step <= 7.5
    assert str(step / 10 ** np.floor(np.log10(step)))[0] in "125"
