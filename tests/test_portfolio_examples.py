"""The examples for a firm's engineer: they parse, and name commands, options and services that exist."""

from __future__ import annotations

import configparser
import shlex
from importlib.metadata import entry_points
from pathlib import Path

import pytest
import yaml

from spread.cli import _parser
from spread.office.connecting import shown

HERE = Path(__file__).parent.parent / "docs" / "portfolio"
COMPOSE = yaml.safe_load((HERE / "compose.yaml").read_text(encoding="utf-8"))
PAGE = (HERE.parent / "portfolio.md").read_text(encoding="utf-8")


def check(words):
    """Fail where a command line would be refused; nothing is run."""
    program, *rest = words
    if program == "spread":
        _parser().parse_args(rest)
        return
    assert program == "dask"
    (entry,) = entry_points(group="dask_cli", name=rest[0])
    known = {option for one in entry.load().params for option in (*one.opts, *one.secondary_opts)}
    assert {word for word in rest if word.startswith("--")} <= known


@pytest.mark.parametrize("name", [name for name, one in COMPOSE["services"].items() if "command" in one])
def test_every_service_runs_a_command_that_exists(name):
    service = COMPOSE["services"][name]
    check(service["command"])
    assert service["environment"]["PGHOST"] in COMPOSE["services"]
    for other in service.get("depends_on", ()):
        assert other in COMPOSE["services"]
    for word in service["command"]:
        if word.startswith("tcp://"):
            assert word.removeprefix("tcp://").split(":")[0] in COMPOSE["services"]
        if "://" in word and not word.startswith("tcp"):
            assert shown(word) == word, "an address without a password in it"


def test_the_compose_file_has_all_that_a_firm_needs_and_shuts_what_nobody_else_may_reach():
    services = COMPOSE["services"]
    assert {"db", "scheduler", "worker", "server", "night"} <= services.keys()
    assert [name for name, one in services.items() if "ports" in one] == ["server"]
    assert all(port.startswith("127.0.0.1:") for port in services["server"]["ports"])
    assert "SPREAD_DB_PASSWORD:?" in services["db"]["environment"]["POSTGRES_PASSWORD"]
    built = COMPOSE["x-spread"]["build"]["dockerfile_inline"]
    assert (HERE / COMPOSE["x-spread"]["build"]["context"] / "pyproject.toml").exists()
    assert "[portfolio,office" in built
    line = next(line for line in built.splitlines() if "python -c" in line)
    compile(shlex.split(line.removeprefix("RUN "))[2], "dockerfile", "exec")
    assert "from spread.firm.fitting import compiled_once" in line
    from spread.firm.fitting import compiled_once

    assert callable(compiled_once)


def test_the_unit_files_parse_and_run_commands_that_exist():
    lines = (HERE / "spread-portfolio.service").read_text(encoding="utf-8").splitlines()
    runs = [line.removeprefix("ExecStart=") for line in lines if line.startswith("ExecStart=")]
    assert len(runs) == 2
    for run in runs:
        path, *rest = shlex.split(run)
        check([Path(path).name, *rest])
    for name in ("service", "timer"):
        unit = configparser.ConfigParser(strict=False, interpolation=None)
        unit.optionxform = str
        unit.read_string((HERE / f"spread-portfolio.{name}").read_text(encoding="utf-8"))
        assert "Unit" in unit
    assert unit["Timer"]["OnCalendar"]


def test_the_page_names_the_examples_and_commands_that_exist():
    for path in HERE.iterdir():
        assert f"portfolio/{path.name}" in PAGE
    commands = [line for line in PAGE.splitlines() if line.startswith("spread portfolio ")]
    assert len(commands) >= 5
    for line in commands:
        check(shlex.split(line.split("#")[0]))
