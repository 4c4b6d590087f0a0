"""The command for the document to hand over: proposal."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from spread.commands.common import Adder, add_language, fit_options, open_session, page_voice, print_json
from spread.commands.programmes import simulation_options

if TYPE_CHECKING:
    from spread.programmes.programme import Programme

PROGRAMMES = "complaint,complaint-ring,complaint-ranked,survey-twice-a-year"
FEWEST, MOST = 2, 4
DOCUMENTS = ("proposal", "residents")


def add(command: Adder) -> None:
    """Add the command."""
    sub = command("proposal", _proposal, "write a proposal for an owner, as a page and as a PDF")
    sub.add_argument("-o", "--out", required=True, type=Path, help="the folder to write into")
    sub.add_argument(
        "--choose", default="", help="the programme proposed instead of the verdict's; the document says so"
    )
    sub.add_argument(
        "--programmes",
        default=PROGRAMMES,
        help="two to four presets or TOML files, joined by commas; the first is what is done today",
    )
    simulation_options(sub)
    sub.add_argument(
        "--firm", type=Path, help="a TOML file on the firm; the building's firm.toml if left out"
    )
    sub.add_argument(
        "--offer", type=Path, help="a TOML file of fees and terms; the building's offer.toml if left out"
    )
    sub.add_argument("--board", action="store_true", help="a copy that names no unit")
    add_language(sub)
    sub.add_argument("--no-pdf", action="store_true", help="the page alone (a PDF needs spread[pdf])")
    sub.add_argument("--paper", default="a4", choices=("a4", "letter"))
    sub.add_argument("--replace", action="store_true", help="write over files of the same names")
    fit_options(sub)


def _proposal(args: argparse.Namespace) -> None:
    from spread.commands.common import ProgressBar, caution  # noqa: PLC0415
    from spread.commands.programmes import check_lengths, judged, prices_of, run_settings  # noqa: PLC0415
    from spread.errors import SettingsError  # noqa: PLC0415
    from spread.programmes.drivers import set_to_ends  # noqa: PLC0415
    from spread.programmes.flips import FLIP_RUNS, flips  # noqa: PLC0415
    from spread.programmes.offer import OFFER_FILE, read_offer  # noqa: PLC0415
    from spread.programmes.results import summarise  # noqa: PLC0415
    from spread.programmes.run import simulate  # noqa: PLC0415
    from spread.report.folder import Format, check_free, write_documents  # noqa: PLC0415
    from spread.report.own_words import FIRM_FILE, read_firm  # noqa: PLC0415
    from spread.report.pdf import check_typst  # noqa: PLC0415
    from spread.report.proposal import proposal  # noqa: PLC0415
    from spread.report.proposal_programmes import Offer  # noqa: PLC0415
    from spread.report.residents import residents_sheet  # noqa: PLC0415

    check_lengths(args)
    folder, programmes = Path(args.building), _programmes(args)
    for given, fix in ((args.firm, "give the firm's own"), (args.offer, "give the fees and terms")):
        if given and not given.exists():
            raise SettingsError.at(given.name, "", "there is no such file", fix)
    firm = read_firm(args.firm or folder / FIRM_FILE)
    terms, voice = read_offer(args.offer or folder / OFFER_FILE), page_voice(args)
    formats: tuple[Format, ...] = ("html",) if args.no_pdf else ("html", "pdf")
    # Before the minutes of simulation, not after.
    check_free(
        [args.out / f"{name}.{kind}" for name in DOCUMENTS for kind in formats],
        args.out,
        replace=args.replace,
    )
    if "pdf" in formats:
        check_typst("add --no-pdf for the page alone")
    session = open_session(args)
    prices = prices_of(args, session)
    settings = run_settings(args, session, prices)
    with ProgressBar("Running the programmes") as progress:
        done = simulate(
            session.view, programmes, settings, pace=session.building.settings.pace, progress=progress
        )
    comparison = summarise(done, prices, by_week=args.by_week, fees=terms.schedule)
    choice = judged(session, done, prices, comparison, args.choose)
    ran = tuple(runs.programme for runs in done.runs)  # with the clearance that they ran with
    with ProgressBar("Setting one thing at a time") as progress:
        ends = set_to_ends(
            session.view,
            programmes,
            replace(settings, runs=min(args.runs, FLIP_RUNS)),
            pace=session.building.settings.pace,
            progress=progress,
        )
    now, fees = comparison.reference, terms.schedule
    turns = flips(ends, chosen=choice.proposed, now=now, prices=prices, fees=fees)
    offer = Offer(comparison, ran, choice, firm, terms, turns, args.board)
    made = (proposal(session, offer, voice), residents_sheet(session, firm, voice))
    named = dict(zip(DOCUMENTS, made, strict=True))
    paths = write_documents(named, args.out, formats=formats, paper=args.paper, replace=args.replace)
    if args.json:
        print_json({"building": session.plan.name, "files": [path.name for path in paths]})
        return
    print(f"Wrote {' and '.join(path.name for path in paths)}: {comparison.of(choice.proposed).name}.")
    print(caution(voice))


def _programmes(args: argparse.Namespace) -> tuple[Programme, ...]:
    """Return what is compared; raises SettingsError where they do not fit each other."""
    from spread.errors import SettingsError  # noqa: PLC0415
    from spread.programmes.reading import find_programme  # noqa: PLC0415

    folder = Path(args.building)
    names = dict.fromkeys(name.strip() for name in args.programmes.split(","))
    programmes = tuple(find_programme(name, folder) for name in names)
    keys = [programme.key for programme in programmes]
    if not FEWEST <= len(set(keys)) == len(keys) <= MOST:
        raise SettingsError.at(
            "--programmes", "", f"it names {len(keys)}", f"name {FEWEST} to {MOST} different ones"
        )
    if args.choose and args.choose not in keys:
        raise SettingsError.at(
            "--choose", "", f"{args.choose!r} is not among them", f"use one of {', '.join(keys)}"
        )
    return programmes
