"""Draws, intervals and rates as files, with the extra ``data``: netCDF as ArviZ lays it out, and Parquet."""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from spread.report.exchange.draws import POINTS, Draws, Labelled, draws_of, needed
from spread.session import Session

GROUPS = ("posterior", "sample_stats", "summary")


def netcdf(session: Session) -> bytes:
    """Return the draws as netCDF 4 in groups: ``arviz.from_netcdf`` and ``xarray.open_datatree`` read it."""
    h5netcdf = needed("h5netcdf", "netCDF")
    h5py = needed("h5py", "netCDF")
    draws = draws_of(session)
    stream = io.BytesIO()
    with h5netcdf.File(stream, "w") as file:
        file.attrs["title"] = f"{draws.name}, {draws.on.isoformat()}"
        file.attrs["caution"] = "Chances are no guarantee: a low one clears no unit."
        for group in GROUPS:
            _write_group(file.create_group(group), draws, draws.in_group(group), h5py.string_dtype())
    return stream.getvalue()


def _write_group(
    target: Any,  # noqa: ANN401 - of an extra, which has no types
    draws: Draws,
    variables: Mapping[str, Labelled],
    text: np.dtype,
) -> None:
    target.attrs["building"], target.attrs["on"] = draws.name, draws.on.isoformat()
    target.attrs["seed"] = draws.seed
    labels: dict[str, NDArray[Any]] = {}
    for one in variables.values():
        for dim, own in draws.labels(one).items():
            labels[dim] = max(own, labels.get(dim, own), key=len)
    for dim, own in labels.items():
        target.dimensions[dim] = len(own)
        kind = text if own.dtype == object else own.dtype
        target.create_variable(dim, (dim,), kind, data=own)
    for name, one in variables.items():
        kept = target.create_variable(name, one.dims, one.values.dtype, data=one.values, compression="gzip")
        kept.attrs["long_name"] = one.words


def draws_parquet(session: Session) -> bytes:
    """Return a row for each chain, draw and unit with its level today."""
    return _long(draws_of(session), "level")


def rates_parquet(session: Session) -> bytes:
    """Return a row for each chain, draw and learned rate, per week; no rows where the fit learned none."""
    return _long(draws_of(session), "rate")


def intervals_parquet(session: Session) -> bytes:
    """Return the 5 %, 50 % and 95 % points of the units infested by week, and of each learned rate."""
    draws = draws_of(session)
    columns: dict[str, list[Any]] = {name: [] for name in ("quantity", "of", *POINTS)}
    for quantity, dim in (("infested_units", "week"), ("rate", "source")):
        one = draws.get(f"{quantity.removesuffix('_units')}_interval")
        if one is None:
            continue
        columns["quantity"] += [quantity] * len(one.values)
        columns["of"] += draws.labels(one)[dim].tolist()
        for k, point in enumerate(POINTS):
            columns[point] += one.values[:, k].tolist()
    return parquet_of(columns)


def _long(draws: Draws, name: str) -> bytes:
    """Return a variable of draws with a row a number and a column a dimension; codes are kept as text."""
    one = draws.get(name)
    if one is None:
        return parquet_of({"chain": [], "draw": [], name: []})
    arrow = needed("pyarrow", "Parquet")
    places = np.indices(one.values.shape, dtype=np.int32)
    columns: dict[str, Any] = {}
    for place, (dim, labels) in zip(places, draws.labels(one).items(), strict=True):
        flat = place.reshape(-1)
        # Texts as a dictionary: a code of a unit is stored once and not once a draw.
        columns[dim] = (
            arrow.DictionaryArray.from_arrays(flat, labels.tolist()) if labels.dtype == object else flat
        )
    columns[name] = one.values.reshape(-1)
    columns["log_weight"] = np.repeat(draws["log_weight"].values.reshape(-1), one.values.shape[-1])
    return parquet_of(columns)


def parquet_of(columns: Mapping[str, Any]) -> bytes:
    """Return columns as a Parquet file."""
    arrow, parquet = needed("pyarrow", "Parquet"), needed("pyarrow.parquet", "Parquet")
    stream = io.BytesIO()
    parquet.write_table(arrow.table(dict(columns)), stream, compression="zstd")
    return stream.getvalue()
