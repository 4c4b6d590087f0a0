"""The proposal of what the programme page has compared: the same runs, with the prices typed."""

from __future__ import annotations

from collections.abc import Mapping

from dashboard.programmes.prices import typed_prices, usual_prices
from dashboard.programmes.work import Work
from spread.errors import SettingsError, SpreadError
from spread.programmes.money import PRICES_FILE
from spread.programmes.results import summarise
from spread.report.document import Document
from spread.report.own_words import FIRM_FILE, read_firm
from spread.report.proposal import proposal
from spread.report.proposal_programmes import Offer
from spread.session import Session


def offered(session: Session, work: Work, sent: Mapping[str, str]) -> Document:
    """Return the proposal of one of the programmes compared; nothing is simulated again.

    ``work``: with runs that are done. ``sent``: ``choose``, the key of the programme, and texts of prices by
    key. Raises SpreadError, in a sentence, when there is nothing to propose or a price is none.
    """
    done = work.done
    ran = () if done is None else tuple(runs.programme for runs in done.runs)
    if done is None or sent.get("choose", "") not in [programme.key for programme in ran]:
        raise SpreadError(
            "There is nothing to propose; start a comparison, and choose one of its programmes."
        )
    if work.is_old:
        raise SpreadError("The building has new answers since these runs; start again, then propose.")
    typed = typed_prices(usual_prices(session), sent)
    if typed.problems:
        raise SettingsError("\n".join(typed.problems.values()))
    folder = session.building.folder
    own = bool(typed.values) or (folder / PRICES_FILE).is_file()
    comparison = summarise(done, typed.prices)
    return proposal(session, Offer(comparison, ran, sent["choose"], read_firm(folder / FIRM_FILE), own))
