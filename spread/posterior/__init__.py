"""Who is infested: records to likelihoods, a compiled sampler, joint draws."""

from pathlib import Path

from spread.compiled import drop_outdated

drop_outdated(Path(__file__).parent)
