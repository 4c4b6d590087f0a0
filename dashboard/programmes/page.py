"""Programmes side by side: curves as they build, money at once, and the proposal of what was compared."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import groupby
from typing import Any

from flask import Blueprint, Flask, Response, current_app, jsonify, request

from dashboard.figures.graph import STYLE, told
from dashboard.pages import Page
from dashboard.programmes.accepting import Accepting
from dashboard.programmes.driven import MOST_RUNS, Drivers, asked, drawn
from dashboard.programmes.figures import shown
from dashboard.programmes.layout import DRIVERS, layout
from dashboard.programmes.offer import offer_fields, renewals, typed_offer, usual_offer
from dashboard.programmes.own import add_own, groups, shown_own
from dashboard.programmes.prices import from_file, to_file, typed_prices, usual_prices
from dashboard.programmes.proposal import document_voice, offered, verdict
from dashboard.programmes.work import Work
from dashboard.signin.who import may
from dashboard.web.files import filled
from dashboard.web.sent import sent_json
from spread.errors import SettingsError, SpreadError
from spread.people.roles import ACCEPT, SIMULATE
from spread.programmes.columns import PROTOCOL
from spread.programmes.crew import crew_minutes
from spread.programmes.money import PRICES_FILE, Prices
from spread.programmes.offer import OFFER_FILE, offer_toml
from spread.programmes.own import LONGEST, read_own
from spread.programmes.price_list import price_list, value_of
from spread.programmes.programme import Programme
from spread.programmes.reading import presets
from spread.programmes.results import summarise
from spread.programmes.run import RunSettings
from spread.programmes.told import pace_known
from spread.report.document import PAPERS, Paper
from spread.report.html import write_html
from spread.report.own_words import FIRM_FILE, read_firm
from spread.report.pdf import write_pdf
from spread.report.residents import residents_sheet
from spread.session import Session
from spread.words import ENGLISH, say
from spread.words.programmes import price_group, price_mark, price_name, price_source

RUNS, WEEKS = (40, 100, 400, 1000), (26, 52, 104)
USUAL_RUNS, USUAL_WEEKS = 400, 104
CHOSEN = ("complaint", "complaint-ranked")
PIECE = 20
"""Runs between two looks at the stop."""


def add_programmes(server: Flask, session: Session) -> None:
    """Put the page and its addresses on a server."""
    pages = Blueprint("programmes", __name__)
    work, drivers, accepting = Work(session), Drivers(), Accepting(session)
    server.extensions["programmes"] = work

    @pages.post("/programmes/start")
    def start() -> Response:
        sent = sent_json()
        try:
            chosen, settings = _asked_for(session, sent)
        except SpreadError as error:
            return jsonify(ok=False, problem=str(error))
        drivers.clear()
        if not work.start(chosen, settings):
            return jsonify(ok=False, problem="A comparison is running already; stop it first.")
        return jsonify(ok=True)

    @pages.post("/programmes/stop")
    def stop() -> Response:
        work.stop()
        return jsonify(ok=True)

    @pages.post("/programmes/drivers")
    def what_drives() -> Response:
        """Work out what drives a programme's difference to the first; without a key, stop that."""
        try:
            return jsonify(problem=asked(session, work, drivers, sent_json()))
        except SpreadError as error:
            return jsonify(problem=str(error))

    @pages.post("/programmes/now")
    def now() -> Response:
        sent = sent_json()
        running, done = work.running, work.done  # in this order: what ends in between is seen next time
        answer: dict[str, Any] = {
            "problem": work.error,
            "running": running,
            "simulations": work.simulations,
            "done": done.done if done else 0,
            "asked": work.settings.runs,
            "old": work.is_old,
            "bad": {},
            "accepted": accepting.told(),
            "drivers": {"running": drivers.running, "share": drivers.share, "problem": drivers.error},
        }
        try:
            answer["made"] = shown_own(read_own(session.building.store))
            usual = usual_prices(session)
            typed, offer = typed_prices(usual, sent), typed_offer(usual_offer(session), sent)
            answer |= {
                "bad": {**typed.problems, **offer.problems},
                "survey": f"{typed.prices.of_look(PROTOCOL):.4g}",
                "own": [price.key for price in price_list(typed.prices) if price.mark == "own"],
            }
            if done is not None:
                compared = summarise(done, typed.prices, fees=offer.terms.schedule)
                choice = verdict(work, compared, typed.prices) if not running else None
                turns = work.turns(choice.proposed, typed.prices, compared.fees) if choice else None
                answer["shown"] = shown(compared, session.on, choice, turns)
                answer["holding"] = work.holding
            if drivers.found is not None:
                answer["drivers"]["figures"] = told(DRIVERS, drawn(work, drivers.found))
        except SpreadError as error:
            answer["problem"] = str(error)
        return jsonify(answer)

    @pages.post("/programmes/prices")
    def prices_from_file() -> Response:
        sent = sent_json()
        name = str(sent.get("name", ""))[:80] or PRICES_FILE
        try:
            return jsonify(problem="", values=from_file(session, str(sent.get("text", "")), name))
        except SpreadError as error:
            return jsonify(problem=str(error), values={})

    add_own(pages, session)
    _accepting(pages, work, accepting)
    _files(pages, session, work)
    server.register_blueprint(pages)


def _asked_for(session: Session, sent: Mapping[str, Any]) -> tuple[list[Programme], RunSettings]:
    """Return what to run and how. Raises SpreadError where that cannot be."""
    keys, given = sent.get("programmes"), sent.get("prices")
    known = (*presets(), *read_own(session.building.store))
    chosen = [p for p in known if isinstance(keys, list) and p.key in keys]
    if not 2 <= len(chosen) <= 4:
        raise SpreadError("Choose two to four programmes.")
    if sent.get("runs") not in RUNS or sent.get("weeks") not in WEEKS:
        raise SpreadError("Choose runs and weeks from the lists.")
    typed = typed_prices(usual_prices(session), given if isinstance(given, dict) else {})
    return chosen, RunSettings(
        weeks=sent["weeks"], runs=sent["runs"], chunk=PIECE, crew_minutes=crew_minutes(typed.prices)
    )


def _accepting(pages: Blueprint, work: Work, accepting: Accepting) -> None:
    """Put the addresses of what is accepted on the page's."""

    @pages.post("/programmes/accept")
    def accept() -> Response:
        try:
            return jsonify(problem="", said=say(accepting.accept(work, sent_json()), ENGLISH))
        except SpreadError as error:
            return jsonify(problem=str(error), said="")

    @pages.post("/programmes/renew")
    def renew() -> Response:
        try:
            accepting.renew()
        except SpreadError as error:
            return jsonify(problem=str(error))
        return jsonify(problem="")


def _files(pages: Blueprint, session: Session, work: Work) -> None:
    """Put the addresses of what is handed over on the page's."""

    @pages.get("/programmes/prices.toml")
    def prices_to_file() -> Response:
        return _handed_over(
            lambda: _download(to_file(session, request.args), PRICES_FILE, "application/toml")
        )

    @pages.get("/programmes/offer.toml")
    def offer_to_file() -> Response:
        return _handed_over(lambda: _download(_offer_file(session), OFFER_FILE, "application/toml"))

    @pages.get("/programmes/residents.pdf")
    def residents_as_pdf() -> Response:
        def made() -> Response:
            firm = read_firm(session.building.folder / FIRM_FILE)
            sheet = residents_sheet(session, firm, document_voice(request.args))
            return _download(write_pdf(sheet, _paper()), "residents.pdf", "application/pdf")

        return _handed_over(made)

    @pages.get("/programmes/proposal")
    def proposal_as_page() -> Response:
        return _handed_over(lambda: Response(write_html(offered(session, work, request.args), _paper())))

    @pages.get("/programmes/proposal.pdf")
    def proposal_as_pdf() -> Response:
        return _handed_over(
            lambda: _download(
                write_pdf(offered(session, work, request.args), _paper()), "proposal.pdf", "application/pdf"
            )
        )


def pieces(session: Session) -> str:
    """Return the parts of the page that are a template's, each for the place that Dash laid out for it."""
    usual = usual_prices(session)
    sources = list(dict.fromkeys(price_source(price, ENGLISH) for price in price_list(usual)))
    terms = usual_offer(session)
    work: Work = current_app.extensions["programmes"]
    return filled(
        "programmes/programmes.html",
        building=session.plan.name,
        on=ENGLISH.day(session.on),
        programmes=presets(),
        own_groups=groups(),
        own_most=LONGEST,
        chosen=[programme.key for programme in work.chosen] or CHOSEN,
        runs=RUNS,
        weeks=WEEKS,
        usual_runs=work.settings.runs if work.chosen else USUAL_RUNS,
        usual_weeks=work.settings.weeks if work.chosen else USUAL_WEEKS,
        groups=_groups(usual, sources),
        sources=sources,
        currency=usual.currency,
        offer=offer_fields(terms, usual.currency),
        terms=terms,
        renewals=renewals(),
        pace=say(pace_known(), ENGLISH),
        most_runs=MOST_RUNS,
        may_accept=may(ACCEPT),
        may_renew=may(SIMULATE),
    )


def _groups(usual: Prices, sources: list[str]) -> list[tuple[str, list[dict[str, Any]]]]:
    """Return the prices by group, ready to be shown, with the place of their source in the list."""
    return [
        (
            price_group(group, ENGLISH),
            [
                {
                    "key": price.key,
                    "words": price_name(price.key, ENGLISH),
                    "unit": usual.currency if price.unit == "money" else price.unit,
                    "money": price.unit == "money",
                    "usual": f"{value_of(usual, price.key):.4g}",
                    "mark": price_mark(price.mark, ENGLISH),
                    "source": sources.index(price_source(price, ENGLISH)) + 1,
                }
                for price in prices
            ],
        )
        for group, prices in groupby(price_list(usual), key=lambda price: price.group)
    ]


def _offer_file(session: Session) -> str:
    """Return the offer as typed over the building's own, as a file; raises SettingsError for a bad entry."""
    typed = typed_offer(usual_offer(session), request.args)
    if typed.problems:
        raise SettingsError("\n".join(typed.problems.values()))
    return offer_toml(typed.terms)


def _paper() -> Paper:
    asked = request.args.get("paper", "")
    return asked if asked in PAPERS else "a4"


def _handed_over(make: Callable[[], Response]) -> Response:
    """Return what is asked for, or in a sentence why there is none."""
    try:
        return make()
    except SpreadError as error:
        return Response(str(error), status=409, mimetype="text/plain")


def _download(content: str | bytes, name: str, media_type: str) -> Response:
    response = Response(content, mimetype=media_type)
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    response.headers["Cache-Control"] = "no-store"
    return response


PAGE = Page(
    "/programmes",
    "Programmes",
    "Programmes side by side",
    layout=layout,
    routes=add_programmes,
    inside=pieces,
    scripts=("programmes/page.js",),
    styles=(STYLE, "programmes/programmes.css"),
)
