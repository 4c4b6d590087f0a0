"""The commands for a programme that was accepted: accept, held."""

from __future__ import annotations

import argparse
from pathlib import Path

from spread.commands.common import (
    Adder,
    ProgressBar,
    add_language,
    answer,
    caution,
    fit_options,
    open_session,
    page_voice,
    whole,
)


def add(command: Adder) -> None:
    """Add the commands."""
    words = "keep an accepted programme with its offer and forecast, or a new forecast of it"
    accept = command("accept", _accept, words)
    accept.add_argument("programme", nargs="?", default="", help="its key or TOML file")
    accept.add_argument(
        "--renew", action="store_true", help="a new forecast of the accepted programme; the old one stays"
    )
    accept.add_argument("--weeks", type=whole, default=104, help="weeks of the forecast; 104 if left out")
    accept.add_argument("--runs", type=whole, default=400, help="futures of the forecast; 400 if left out")
    accept.add_argument("--prices", help="a TOML file of prices; prices.toml of the building if it has one")
    accept.add_argument(
        "--offer", type=Path, help="a TOML file of fees and terms; the building's offer.toml if left out"
    )
    accept.add_argument("--by", default="", help="work code of whoever keeps it, never a name; no signature")
    fit_options(accept)
    held = command("held", _held, "the accepted programme beside what came of it, and whether it departs")
    fit_options(held)
    add_language(held)


def _accept(args: argparse.Namespace) -> None:
    from spread.commands.programmes import check_lengths, prices_of, run_settings  # noqa: PLC0415
    from spread.errors import SettingsError  # noqa: PLC0415
    from spread.people.phrases import is_code  # noqa: PLC0415
    from spread.programmes.accepted import accepted_in, accepted_of, renewed, standing, text_of  # noqa: PLC0415
    from spread.programmes.offer import OFFER_FILE, read_offer  # noqa: PLC0415
    from spread.programmes.reading import find_programme  # noqa: PLC0415
    from spread.programmes.run import simulate  # noqa: PLC0415
    from spread.report.held import accepted_data  # noqa: PLC0415
    from spread.words import ENGLISH, say  # noqa: PLC0415

    args.by_week = None
    check_lengths(args)
    if args.renew == bool(args.programme):
        fix = "write spread accept BUILDING complaint-ranked, or spread accept BUILDING --renew"
        raise SettingsError.at("programme", "", "name a programme, or --renew, and not both", fix)
    if args.by and not is_code(args.by):
        fix = "write one such as T1, never a name"
        raise SettingsError.at("--by", "", f"{args.by[:20]!r} is no work code", fix)
    if args.offer and not args.offer.exists():
        raise SettingsError.at(args.offer.name, "", "there is no such file", "give the fees and terms")
    folder = Path(args.building)
    programme = find_programme(args.programme, folder) if args.programme else None
    terms = read_offer(args.offer or folder / OFFER_FILE)
    session = open_session(args)
    pace, texts = session.building.settings.pace, session.building.store.programmes
    with ProgressBar("Running the programme") as progress:
        if programme is None:
            old = standing(accepted_in(texts))
            if old is None:
                fix = "accept one first, as spread accept BUILDING complaint-ranked"
                raise SettingsError.at("programme", "", "no programme was accepted", fix)
            kept = renewed(session.view, old, pace=pace, by=args.by, progress=progress)
        else:
            prices = prices_of(args, session)
            settings = run_settings(args, session, prices)
            done = simulate(session.view, [programme], settings, pace=pace, progress=progress)
            kept = accepted_of(session.view, done, programme.key, prices=prices, terms=terms, by=args.by)
    texts.keep(text_of(kept))
    answer(args, lambda: accepted_data(kept), lambda: say(kept, ENGLISH), warned=True)


def _held(args: argparse.Namespace) -> None:
    from spread.report.held import held_data, held_text, held_view  # noqa: PLC0415

    session, voice = open_session(args), page_voice(args)
    shown = held_view(session)
    nothing = voice.text("No programme was accepted for this building.")
    answer(
        args,
        lambda: {"held": None if shown is None else held_data(shown)},
        lambda: nothing if shown is None else "\n".join([*held_text(shown, voice), caution(voice)]),
    )
