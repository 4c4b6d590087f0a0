"""Programmes compared by simulation from the posterior of a building.

A programme is data (:class:`~spread.programmes.programme.Programme`, TOML by
:func:`~spread.programmes.reading.find_programme`): what makes somebody look, how, and what follows a find.
Runs start from joint draws of the posterior, levels and rates; every programme meets the same luck. Money is
worked out from the counts afterwards, so that a price changes without a new simulation.

Examples
--------
>>> from spread.programmes.reading import preset, presets          # doctest: +SKIP
>>> from spread.programmes.run import RunSettings, simulate        # doctest: +SKIP
>>> from spread.programmes.money import Prices, read_prices        # doctest: +SKIP
>>> from spread.programmes.results import summarise                # doctest: +SKIP
>>> chosen = [preset("complaint"), preset("complaint-ranked")]     # doctest: +SKIP
>>> done = simulate(session.view, chosen, RunSettings(weeks=104, runs=400, seed=1),
...                 pace=session.building.settings.pace,
...                 progress=print, stop=threading.Event())        # doctest: +SKIP
>>> prices = Prices(hour=65.0).with_pace(session.building.settings.pace)   # doctest: +SKIP
>>> answer = summarise(done, prices, reference="complaint", by_week=52)    # doctest: +SKIP
>>> a = answer.of("complaint-ranked")                              # doctest: +SKIP
>>> a.infested           # (5, weeks + 1): 5, 25, 50, 75, 95 % points a week     # doctest: +SKIP
>>> a.figures["cost"]    # Figure(mean, median, low50, high50, low90, high90, error, median_error)
...                                                                # doctest: +SKIP
>>> a.nil_by.chance, a.weeks_to_nil.median, a.cost_by_kind["treatment"].median   # doctest: +SKIP
>>> answer.pair("complaint-ranked", "complaint").bug_verdict  # fewer, more, cannot be told apart
...                                                                # doctest: +SKIP
>>> summarise(done, Prices(hour=90.0))    # another price, no new simulation       # doctest: +SKIP

>>> from spread.programmes.schedule import calendar, standing_work, visits_by_quarter    # doctest: +SKIP
>>> calendar(preset("survey-twice-a-year"), session.on, 104)[0].first    # a Monday      # doctest: +SKIP
>>> from spread.programmes.drivers import tornado                        # doctest: +SKIP
>>> tornado(session.view, preset("complaint-ranked"), preset("complaint"), RunSettings(runs=200),
...         pace=session.building.settings.pace, prices=prices).drivers[0].name          # doctest: +SKIP
>>> from spread.programmes.optimise import Goal, candidates, search      # doctest: +SKIP
>>> search(session.view, candidates(preset("complaint")), Goal(chance=0.8, by_week=104),
...        RunSettings(runs=400)).best                                   # doctest: +SKIP

A stopped simulation keeps what is done: ``done.done`` runs of every programme, ``done.stopped``;
``summarise`` needs at least one.
"""

from pathlib import Path

from spread.compiled import drop_outdated

_HERE = Path(__file__).parent
drop_outdated(_HERE, [_HERE.parent / "posterior"])
