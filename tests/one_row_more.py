"""One row more of each registry, and a dog more; run before anything else of the package is loaded."""

from spread.trade import route_rows
from spread.trade.methods import looks, monitors, treatments
from spread.trade.methods.false_finds import CAUGHT, SEEN
from spread.trade.methods.rows import Look, Monitor, Treatment
from spread.trade.route_rows import Route
from spread.trade.sources import Sourced, sourced_row

JUDGED = "judgement: made up for a test"


def row(*central, unit="chance of a find"):
    low, high = (tuple(c * f for c in central) for f in (0.5, 1.0))
    return sourced_row(central, low, high, unit=unit, source=JUDGED, confidence="C")


def number(central, unit):
    return Sourced(central, central / 2, central * 2, unit, JUDGED, "C")


looks.ROWS += (
    Look(
        key="lamp-look",
        name="Lamp look",
        how="under a lamp",
        plain="a look with a strong lamp",
        bring=("the strong lamp", "gloves"),
        sensitivity=row(0.35, 0.65, 0.88, 0.98),
        false_find=SEEN,
        minutes=number(21.0, "minutes per unit"),
        fee=number(4.0, "US$"),
        by_eye=True,
    ),
    Look(
        key="nose",
        name="Electronic nose",
        how="with an electronic nose",
        plain="a machine that smells bugs",
        bring=("the machine",),
        sensitivity=row(0.5, 0.5, 0.5, 0.5),
        false_find=number(0.2, "chance of a positive in a clear unit"),
        minutes=number(6.0, "minutes per unit"),
        fee=number(2.0, "US$"),
        usual_sign="alert",
        confirmed_by="lamp-look",
        whole="Electronic nose, then a lamp look to confirm an alert",
        alert="an electronic nose alerted",
        not_found="no smell",
        if_nothing="the nose finds nothing that a look confirms",
        caution="that clears nothing",
    ),
)
monitors.ROWS += (
    Monitor(
        key="glue-card",
        name="Glue cards",
        those="glue cards",
        several="glue cards",
        how="with glue cards",
        plain="cards with glue",
        bring=("glue cards",),
        sensitivity=row(0.2, 0.4, 0.7, 0.9, unit="chance of a catch in 7 days"),
        false_find=CAUGHT,
        minutes=number(8.0, "minutes per unit"),
        fee=number(1.0, "US$"),
        nominal_days=7.0,
        caps=(0.6, 0.8, 0.95, 0.99),
        set_up=5.0,
    ),
)
treatments.ROWS += (
    Treatment(
        key="cold-room",
        name="Cold room treatment",
        short="Cold room",
        elimination=row(0.3, 0.25, 0.2, 0.1, unit="chance of elimination per visit"),
        reduction=Sourced(0.5, 0.3, 0.7, "share of bugs gone per visit", JUDGED, "C"),
        material=number(90.0, "US$"),
    ),
)
route_rows.ROWS += (
    Route(
        key="laundry",
        name="Shared laundries",
        contacts="shared laundries",
        rate=number(0.004, "per week"),
    ),
    Route(
        key="stairwell",
        name="Shared stairs",
        contacts="pairs on the same stairs",
        rate=number(0.002, "per week"),
        words="uses the same stairs as",
        measured_by="one_route_more:stairs",
    ),
)
