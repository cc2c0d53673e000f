"""Touchstone files (1.1 and 2.0, .s4p to .s16p) become curves: single-ended ports to pairs, then loss and crosstalk.

Two ports are the two wires of a pair at one end. For pairs j and k, ends A and B, in mixed mode (differential at 100 ohm):

    insertion loss_k = -20 log10 |S(B k, A k)|        return loss_k = -20 log10 |S(A k, A k)|
    NEXT_jk = -20 log10 |S(A k, A j)|                 ACR-F_jk = FEXT_jk - insertion loss_k,  FEXT_jk = -20 log10 |S(B k, A j)|

(definitions of ISO/IEC 11801-1, from memory). Of ACR-F from j to k and from k to j the smaller stands for the combination.

The file does not say which port is which. Both usual orders are tried: all ports of end A before those of end B, or the
two ends of each wire in turn. The one in which the wires lead through at the lowest frequency is taken, and told; where
neither does so clearly, the file is refused. scikit-rf reads the file, and is imported only here.
"""

from __future__ import annotations

import io
import re
import warnings
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from analyzer import schema
from analyzer.errors import FileUnreadable
from analyzer.importing.source import Imported, Source, Tallies
from analyzer.importing.table import identity
from analyzer.points import Points, curve_hash
from analyzer.standards.crosstalk import far_end_ratio_db

PORT_ORDERS = ("end A first", "wire by wire")
_SUFFIX = re.compile(r"\.s(\d{1,2})p$")
_SINGLES = schema.CATEGORIES["pair"][:4]
_COMBINED = schema.CATEGORIES["pair"][4:]
_CLEARLY_DB = 6.0
"""The right order leads through better than the other by at least this at the lowest frequency (own choice)."""
_LEAST_AMPLITUDE = 1e-15
"""Smaller ones are float noise; 300 dB stands for all of them."""
_MOST_EMPTY_READS = 64


@dataclass(frozen=True)
class _Ports:
    """Ports of every wire at both ends, counted from 0, two after each other for each pair."""

    near: np.ndarray
    far: np.ndarray
    name: str


def is_touchstone(source: Source) -> bool:
    """Whether the name says that it is a Touchstone file of any number of ports."""
    return bool(_SUFFIX.search(source.suffix))


def read_touchstone(source: Source, port_order: str | None = None) -> Imported:
    """Read one file into the tables of `analyzer.schema`; the curves are the result, there are no readings.

    Args:
        source: the file; the link is called by its name.
        port_order: one of `PORT_ORDERS`; None lets physics settle it.

    Raises:
        FileUnreadable: broken, an impossible number of ports, an order of ports that nothing settles, or scikit-rf is
            not installed.
    """
    network = _network(source)
    ports, told = _settled(source, network, port_order)
    pairs = len(ports.near) // 2
    told.append(("pairs-by-port-order", f"the ports are taken to follow the pairs {', '.join(_SINGLES[:pairs])}"))
    curves = _curves(_mixed_mode(network, ports), pairs)
    frequency = np.round(network.f / 1e6, 9)
    return _imported(source, frequency, curves, told)


def header_lines(source: Source, most: int) -> list[tuple[int, list[str]]]:
    """Comment, option and keyword lines with their row, at most so many."""
    lines = _decoded(source).splitlines()
    told = [(at + 1, [line.strip()]) for at, line in enumerate(lines) if line.lstrip()[:1] in {"!", "#", "["}]
    return told[:most]


def _decoded(source: Source) -> str:
    return source.data.decode("utf-8-sig", errors="replace")


def _network(source: Source) -> Any:
    """The file as scikit-rf reads it, at 50 ohm.

    Its parser waits for values at the end of a torn file; the text is handed over so that it cannot.
    """
    try:
        import skrf  # type: ignore[import-not-found, import-untyped, unused-ignore]
    except ImportError as error:
        raise FileUnreadable(
            source.name, "Touchstone files need the package scikit-rf, which is not installed",
            'install it: pip install "cableproof[touchstone]"',
        ) from error  # fmt: skip
    text = _Text(_decoded(source))
    text.name = source.name.rsplit("!", 1)[-1]
    try:
        with warnings.catch_warnings(), np.errstate(all="ignore"):
            warnings.simplefilter("ignore")
            network = skrf.Network(text)
            if not np.allclose(network.z0, 50.0):
                network.renormalize(50.0)
    except Exception as error:  # the parser raises whatever a broken line makes of it
        raise FileUnreadable(source.name, "the Touchstone file is broken", "export it again") from error
    _check(source, network)
    return network


class _Text(io.StringIO):
    """Text that ends: reading on and on behind its end is an error."""

    name = ""
    _empty = 0

    def readline(self, size: int | None = -1, /) -> str:  # type: ignore[override]  # text, as StringIO itself
        """One line; raises where the end was passed many times."""
        line = super().readline(-1 if size is None else size)
        self._empty = 0 if line else self._empty + 1
        if self._empty > _MOST_EMPTY_READS:
            raise EOFError("the text ends before its values do")
        return line


def _check(source: Source, network: Any) -> None:
    ports = network.nports
    if ports % 4 or not 4 <= ports <= 16:
        raise FileUnreadable(
            source.name, f"{ports} ports are no whole pairs with both ends",
            "export one to four pairs, each wire at both ends: .s4p, .s8p, .s12p or .s16p",
        )  # fmt: skip
    modes = getattr(network, "port_modes", np.array([]))
    if any(str(mode) not in {"S", ""} for mode in np.ravel(modes)):
        raise FileUnreadable(source.name, "its ports are in mixed mode", "export single-ended ports")
    if not len(network.f) or not np.isfinite(network.s).all() or (np.diff(network.f) <= 0).any():
        raise FileUnreadable(
            source.name, "its frequencies do not rise, or some of its values are no numbers", "export it again"
        )


def _orders(count: int) -> list[_Ports]:
    half = np.arange(count // 2)
    return [_Ports(half, half + count // 2, PORT_ORDERS[0]), _Ports(2 * half, 2 * half + 1, PORT_ORDERS[1])]


def _settled(source: Source, network: Any, port_order: str | None) -> tuple[_Ports, list[tuple[str, str]]]:
    orders = _orders(network.nports)
    if port_order is not None:
        return orders[PORT_ORDERS.index(port_order)], []
    lowest = np.abs(network.s[0])
    through = [-20 * np.log10(np.maximum(lowest[one.far, one.near], _LEAST_AMPLITUDE)).mean() for one in orders]
    best = int(np.argmin(through))
    if through[1 - best] - through[best] < _CLEARLY_DB:
        raise FileUnreadable(
            source.name,
            f"nothing tells the order of its ports: at {network.f[0] / 1e6:g} MHz the wires lose {through[0]:.1f} dB one way "
            f"and {through[1]:.1f} dB the other",
            "state the order of the ports, or export from a lower frequency",
        )
    text = (
        f"the order of the ports is not stated: taken as {orders[best].name}, for then the wires lose {through[best]:.1f} dB at "
        f"{network.f[0] / 1e6:g} MHz, and {through[1 - best]:.1f} dB otherwise"
    )
    return orders[best], [("port-order-by-physics", text)]


def _mixed_mode(network: Any, ports: _Ports) -> np.ndarray:
    """Differential scattering parameters, (frequencies, 2 pairs, 2 pairs): the pairs at end A, then at end B."""
    order = np.r_[ports.near, ports.far]
    mixed = network.copy()
    mixed.s = network.s[:, order][:, :, order]
    mixed.se2gmm(p=len(order) // 2)
    size = len(order) // 2
    return np.asarray(mixed.s[:, :size, :size])


def _curves(s: np.ndarray, pairs: int) -> list[tuple[str, str, str, np.ndarray]]:
    """(parameter, pair, end, values [dB]) from differential scattering parameters."""
    db = -20 * np.log10(np.maximum(np.abs(s), _LEAST_AMPLITUDE))
    ends = {"A": (0, pairs), "B": (pairs, 0)}
    found = []
    for end, (near, far) in ends.items():
        loss = [db[:, far + k, near + k] for k in range(pairs)]
        for k in range(pairs):
            found.append(("insertion loss", _SINGLES[k], end, loss[k]))
            found.append(("return loss", _SINGLES[k], end, db[:, near + k, near + k]))
        for name in _COMBINED:
            j, k = (_SINGLES.index(half) for half in name.split("/"))
            if max(j, k) >= pairs:
                continue
            found.append(("NEXT", name, end, db[:, near + k, near + j]))
            far_end = np.minimum(
                far_end_ratio_db(db[:, far + k, near + j], loss[k]), far_end_ratio_db(db[:, far + j, near + k], loss[j])
            )
            found.append(("ACR-F", name, end, far_end))
    return found


def _imported(
    source: Source, frequency: np.ndarray, curves: list[tuple[str, str, str, np.ndarray]], told: list[tuple[str, str]]
) -> Imported:
    points = Points.of([(frequency, value) for *_, value in curves])
    label = source.name.rsplit("!", 1)[-1].rsplit("/", 1)[-1].rsplit(".", 1)[0]
    records = schema.conform(
        "records",
        pd.DataFrame({"record": [0], "block": [0], "row": [1], "col": [-1], "label": [label], "key": list(identity(np.array([label], object))),
                      "strands": [1], "medium": ["twisted pair"]}),
    )  # fmt: skip
    blocks = schema.conform(
        "blocks", pd.DataFrame({"block": [0], "file": [0], "kind": ["network"], "first_row": [1], "last_row": [source.data.count(b"\n") + 1]}),
    )  # fmt: skip
    frame = pd.DataFrame([row[:3] for row in curves], columns=["parameter", "pair", "end"]).assign(
        curve=np.arange(len(curves)), record=0, block=0, row=1, n=len(frequency), lost=0, f_min_mhz=frequency[0],
        f_max_mhz=frequency[-1], grid=points.grid,
        hash=np.asarray([curve_hash(frequency, value) for *_, value in curves], dtype=np.uint64),
    )  # fmt: skip
    seeds = pd.DataFrame(
        {
            "code": pd.Series([code for code, _ in told], dtype="str"), "record": pd.Series([-1] * len(told), dtype="int32"),
            "text": pd.Series([text for _, text in told], dtype="str"),
        }
    )  # fmt: skip
    file = {
        "file": 0, "name": source.name, "sha256": source.sha256, "bytes": len(source.data), "status": "read", "reason": None,
        "rows_read": len(frequency), "rows_used": len(frequency), "rows_set_aside": 0, "cells_read": len(points.value),
        "cells_used": len(points.value), "cells_set_aside": 0, "furniture_rows": 0, "encoding": "utf-8", "delimiter": None,
        "decimal_mark": ".",
    }  # fmt: skip
    return Imported(
        file, blocks, schema.empty("columns"), records, schema.empty("readings"), schema.empty("set_aside"), seeds,
        Tallies(), schema.conform("curves", frame), points,
    )  # fmt: skip
